"""When one more order could be done, beside what is planned, and what it would take."""
