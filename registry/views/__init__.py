"""Pages: parse input, call one service or selector, answer."""
