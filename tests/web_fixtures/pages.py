"""The address of every page: of an empty shop, of the example workshop, and of one of its visits."""

NEW_SHOP = ("/", "/pair")
SHOP = ("", "/health", "/targets", "/targets/electric-guitar", "/settings", "/heading", "/backups", "/devices",
        "/lists/owner", "/lists/price", "/lists/stock", "/lists/gauge", "/lists/stock?low=yes", "/procedures",
        "/procedures/restring", "/new-procedure")  # fmt: skip
EXAMPLE = ("/", "/instruments", "/search?q=heron", "/search?q=zzz", "/visits/new", "/visits/new?kind=bass-five",
           "/nowhere", *(f"/shop{one}" for one in SHOP))  # fmt: skip
VISIT = ("", "/work", "/procedures/restring", "/readings", "/listen", "/listen/recordings", "/plan", "/try", "/lowest",
         "/frets", "/make", "/make/nut", "/make/neck-angle",
         "/frets?strength=light&low=2.5&high=2.2",
         "/strings", "/strings/swap?diameter-1=.011in", "/strings?find=yes&shelf=yes&grams-6=6.71&length-6=1000",
         "/climate?temperature=24&humidity=30", "/paper", "/entries",
         "/complaint", "/hand-back")  # fmt: skip
PAGES = [*NEW_SHOP, *(f"/example{one}" for one in EXAMPLE), *(f"/example/visits/27{one}" for one in VISIT)]
