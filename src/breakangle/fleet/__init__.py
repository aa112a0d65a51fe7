"""Many instruments at once: one job over a shop, a folder, a list of files or a Parquet set, on Dask.

    from breakangle.fleet.run import run
    from breakangle.fleet.engine import local
    from breakangle.fleet.items import items_of

    with local(workers=2) as engine:
        outcome = run("plan", items_of(["services/"]), "plans", engine)

Every item's answer and every item's error is kept; what was done before is not done again (`fleet/store.py`).
"""
