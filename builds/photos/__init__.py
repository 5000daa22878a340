"""Photos of a job: taking them in, taking out whose camera it was, keeping them, and showing them."""
