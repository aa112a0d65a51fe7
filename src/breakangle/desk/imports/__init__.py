"""A whole shop brought in: its rows are checked by what checks the same when it is typed."""
