"""Forms of the records' pages. Importing this enters all moves into the register (web/register.py)."""
