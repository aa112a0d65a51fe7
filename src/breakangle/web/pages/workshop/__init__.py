"""The shop: heading and money, backups, lists kept by hand, everything taken along or brought in."""
