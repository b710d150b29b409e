"""How people sign in, and what they have to do about it."""
