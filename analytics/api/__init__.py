"""Resources for programs: parse, call one service or selector, answer."""
