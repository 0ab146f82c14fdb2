"""Examine what a trainee can see: forms, answers, marks, statistics, records."""
