import time, random
from unittest import mock
from tests.pages import *
from thawline.services import demo, recording, habits
from thawline.services.habits import *
from thawline.services.present import now as _n
import pytest, re
def test_real(db):
    f = family()
    at = f.now
    from thawline.services import people
    from thawline.services.people import bare_household
    from thawline.records.ledger.models import Household
    from thawline.records.accounts.models import Member
    store = bare_household("demo"); Member.objects.update(household=store.id)
    lines = demo.demo_ledger(now=at); 
    r = recording.record(store, lines, now=at); print(len(lines), r.refused[:3])
    with mock.patch("thawline.services.present.now", side_effect=lambda: at):
        for h in (Habits(), Habits(fed="bottle"), Habits(apart=(Apart("Mira",(1,3),"08:00","17:00"),)), Habits(apart=(Apart("Mira",(0,1,2,3,4),"08:00","17:00"),), goal=Goal("apart","2027-03-01","2027-04-30",9)), Habits(goal=Goal("weaning","2027-03-01","2027-03-20")), Habits(fed="bottle",way="rotation",goal=Goal("trip","2027-06-01","2027-06-10"))):
            habits.keep(store, h)
            for q in ("","?sessions=3","?apart=4&start=2027-02-20"):
                for i in range(3):
                    t=time.perf_counter(); page = f.see("/outlook/"+q); print(q, f"{(time.perf_counter()-t)*1000:.0f} ms")
                if i==2: print(text(page)[:3000] if not q else text(page)[:330]); print()
