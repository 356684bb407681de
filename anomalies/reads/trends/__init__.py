"""Whether anomalies come rarer, how long they wait, what causes them: figures over the whole log."""
