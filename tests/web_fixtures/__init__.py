"""What the tests of the screens share: a served app in a process of its own, a real browser, a rule checker."""
