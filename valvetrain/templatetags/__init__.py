"""Template filters of the upper floor."""
