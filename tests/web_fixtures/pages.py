"""The address of every page: of an empty shop, of the example workshop, and of one of its visits.

What a page is of that has a key of its own, which no two example workshops share, stands in its address by a name, such
as `{instrument}`: `addressed` puts the first such key there that another page links to.
"""

import re
import urllib.request

NEW_SHOP = ("/", "/pair")
LAST = ("/offline", "/example/visits/5", "/example/visits/27/make/top", "/example/shop/lists/owner/{owner}")
SHOP = ("", "/health", "/targets", "/targets/electric-guitar", "/kinds",
        "/kinds/new?copy=mandolin", "/settings", "/heading", "/backups", "/devices",
        "/lists/owner", "/lists/price", "/lists/stock", "/lists/gauge", "/lists/stock?low=yes", "/procedures",
        "/procedures/restring", "/new-procedure")  # fmt: skip
EXAMPLE = ("/", "/instruments", "/search?q=heron", "/search?q=zzz", "/visits/new", "/visits/new?kind=bass-five",
           "/nowhere", "/design",
           "/design?kind=electric-guitar&scale=686+mm&tuning=B3,F%233,D3,A2,E2,B1",
           *(f"/shop{one}" for one in SHOP))  # fmt: skip
VISIT = ("", "/work", "/procedures/restring", "/readings", "/listen", "/listen/recordings", "/plan", "/try", "/lowest",
         "/frets", "/make", "/make/nut", "/make/neck-angle", "/make/bridge", "/make/refret", "/make/saddle",
         "/make/built", "/make/electrics",
         "/drawing?plan=yes", "/board/buzz", "/board/clearance", "/board/intonation", "/entries/{entry}",
         "/frets?strength=light&low=2.5&high=2.2",
         "/strings", "/strings/swap?diameter-1=.011in", "/strings?find=yes&shelf=yes&grams-6=6.71&length-6=1000",
         "/climate?temperature=24&humidity=30", "/paper", "/entries",
         "/complaint", "/hand-back")  # fmt: skip
KEYED = ("/instruments/{instrument}", "/instruments/{instrument}/same", "/visits/26/photographs/{photograph}")
PAGES = [
    *NEW_SHOP, *(f"/example{one}" for one in (*EXAMPLE, *KEYED)), *(f"/example/visits/27{one}" for one in VISIT), *LAST,
]  # fmt: skip
LINKED = {
    "{instrument}": ("/example/instruments", r"/instruments/(\w{20})"),
    "{entry}": ("/example/visits/27/entries", r"/visits/27/entries/(\w{20})"),
    "{owner}": ("/example/shop/lists/owner", r"/lists/owner/(\w{20})"),
    "{photograph}": ("/example/visits/26", r"/visits/26/photographs/(\w{20})"),
}


def addressed(url: str, path: str) -> str:
    """Return the path with the keys that the example workshop at `url` has given."""
    for name, (page, key) in LINKED.items():
        if name in path:
            text = urllib.request.urlopen(f"{url}{page}", timeout=120).read().decode()
            path = path.replace(name, re.findall(key, text)[0])
    return path
