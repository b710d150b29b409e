"""HTML forms: shape and wording of input."""
