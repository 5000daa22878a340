"""How dates and times are written on every page and sheet."""
