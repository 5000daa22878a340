"""Keeping the book: backups that a stranger can check, and putting one back into an empty folder."""
