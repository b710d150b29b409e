"""Rules of the analytics: plain values in, plain values out."""
