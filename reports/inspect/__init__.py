"""Inspections on paper: their forms, what was found in words, and the last look beside this one."""
