"""Evidence: intervals, few-shot adjustment, trials, periods, priorities."""
