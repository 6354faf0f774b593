"""The machine as it warms and cools: temperatures, fit and gap against time, and when it may be started again."""
