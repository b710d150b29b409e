"""One question each: frames in, an answer out."""
