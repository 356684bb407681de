"""Lessons: which are offered where, and why; what was decided; the list, and the page of one."""
