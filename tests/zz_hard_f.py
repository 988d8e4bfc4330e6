import time, random
from tests.pages import *
from thawline.services import demo, recording, people, habits, plan
from thawline.services.habits import Habits, Apart
import pytest
@pytest.mark.parametrize("seed", range(10))
def test_hard(home, seed):
    r=random.Random(seed)
    h=Habits(fed=r.choice(["bottle","apart"]), way=r.choice(["fresh_first","rotation"]), apart=(Apart(child="Mira",days=(0,1,2,3,4),start="08:30",end="17:00"),))
    for i in range(r.randint(3,10)): home.expressed(f"KA{i+10}",r.randint(3,15)*10,r.uniform(1,80))
    for n in range(r.randint(5,40)): home.expressed(f"FA{n}",r.randint(3,18)*10,24*r.uniform(5,100),place="freezer")
    for days in (1,3,7):
        for refine in (False,True):
            t=time.perf_counter(); p=plan.plan_now(home.store,h,now=home.now,days=days,refine=refine); t=time.perf_counter()-t
            print(seed,h.fed,h.way,days,refine,round(t,3),len(p.chores),len(p.feeds),p.better_ml,p.proven,p.refined,sum(m for _,m in p.thrown),len(p.short))
