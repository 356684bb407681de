"""The brief of an activity: what changed since last time, and why we believe that it works; from the records alone."""
