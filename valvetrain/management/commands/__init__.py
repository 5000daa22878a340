"""Commands of the upper floor."""
