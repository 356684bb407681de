"""Whether events come rarer or denser: trend tests, the power-law process, a control chart, times with some waiting."""
