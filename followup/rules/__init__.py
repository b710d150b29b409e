"""Plain values in, plain values out: no Django, no clock."""
