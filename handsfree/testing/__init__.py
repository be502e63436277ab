"""Shipped fakes and contract suites: for this project's tests and for anyone who adds an edge."""
