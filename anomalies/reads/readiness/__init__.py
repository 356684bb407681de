"""What must be so before an activity may begin, worked out from the records alone."""
