import random
from tests.pages import *
from urllib.parse import urlencode
def test_fuzz(home):
    home.note("expressed", 96, into=[{"container":"KA34","ml":120}], place="freezer", vessel={"kind":"bag","shape":"flat","thickness_mm":15})
    home.note("expressed", 90, into=[{"container":"KB22","ml":100}], place="freezer")
    home.expressed("NEW1",60,1)
    home.note("expressed", 2, into=[{"container":"RM1","ml":5}], place="counter")
    home.note("place", 1, place="attic", is_="deep_freezer", temp_c=-60)
    home.note("place", 1, place="oven", is_="refrigerator", temp_c=110)
    rng=random.Random(5)
    vals={"code":["","KA34","KB22","NEW1","RM1"],"ml":["","1","120","5000"],"shape":["","flat","upright"],"across":["","1","15","300"],"how":["","measured"],"stands":["","shelf","open"],"wall":["","plastic","glass"],"temp":["","","-37","-0.55","-0.6","0","4","21","36","37","60","110"],"to":["","fridge","freezer","nope","attic","oven"],"wanted":["","07:00","23:59"],"water":["","0.1","1","40"],"water_c":["","0","4","20","22","37","40","110"],"to_c":["","-60","0","4","22","37","40"],"start":["","body","room","cold","frozen","x"]}
    import time
    slow=[]; codes={}
    for n in range(240):
        q={k:rng.choice(v) for k,v in vals.items()}
        name=["thaw","freeze","warm","cool"][n%4]
        t=time.perf_counter()
        try: a=home.phone.get(f"/heat/{name}/?"+urlencode(q))
        except Exception as e: raise AssertionError((name,q)) from e
        slow.append((time.perf_counter()-t,name))
        codes[a.status_code]=codes.get(a.status_code,0)+1
        assert a.status_code in (200,422),(name,q,a.status_code)
    print(codes)
    for name in ("thaw","freeze","warm","cool"): print(name,max(t for t,n in slow if n==name),sorted(t for t,n in slow if n==name)[len(slow)//8])
