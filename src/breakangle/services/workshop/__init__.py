"""The workshop itself: where it is, its house targets, prices, gauges, devices and paper heading."""
