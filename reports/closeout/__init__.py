"""The close-out file for people: its document as sections for a page and for a tagged PDF."""
