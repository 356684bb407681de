"""Meetings of the board: the agenda that makes itself, the minutes that the ledger holds, the list and the page."""
