"""How often the interval of what the tests leave open holds the truth."""
from __future__ import annotations
import datetime, sys, time
from dataclasses import dataclass, replace
import numpy as np
from fieldsim.calibration import posterior as post
from fieldsim.calibration.fit import assembled, fit, believed, _tells_tape
from fieldsim.calibration.observed import Observed, observed, slopes, SOURCES, BIASES
from fieldsim.model import *
from fieldsim.model.measured import *
from scipy.stats import norm, qmc
sys.path.insert(0,'tests')
from plans import PERFECT, robot

ROBOT = robot(PERFECT)
DEMO = dict(zip(["bias.distance","bias.veer","bias.turn","day.distance","day.veer","day.turn","straight.stop","straight.distance","straight.veer","turn.stop","turn.slip"],[0.004,.3,.01,.002,.2,.005,.8,1.5,.4,.5,.6]))
def scaled(f, **more):
    return {k: v if k.startswith("bias") else v*f for k,v in (DEMO|{a.replace('_','.'):b for a,b in more.items()}).items()}

S=lambda l,d=None: StraightTest(line=2,date=d,commanded=l,travel=l,sideways=0.0)
T=lambda a,d=None: TurnTest(line=2,date=d,commanded=a,angle_read=a)
Q=lambda w,d=None: SquarePathTest(line=2,date=d,side=600.0,direction=w,return_x=0.0,return_y=0.0)
def layout(n, days):
    base={6:[S(300.),S(1000.),S(1000.),T(90.),T(90.),T(360.)],
      12:[S(300.)]*3+[S(1000.)]*3+[T(90.),T(90.),T(-90.),T(360.),T(360.),T(-90.)],
      36:([S(300.)]*2+[S(1000.)]*3+[T(90.),T(90.),T(-90.),T(360.),T(360.),Q("cw"),Q("ccw")])*3,
      100:([S(300.)]*6+[S(1000.)]*10+[T(90.)]*5+[T(-90.)]*4+[T(360.)]*5+[Q("cw"),Q("ccw"),Q("cw")])*3+[S(1000.)]}[n]
    per=-(-len(base)//days)
    # spread over the days
    if days>1 and n<36: base=base[::2]+base[1::2]
    return [replace(t,date=None if days==1 else datetime.date(2026,10,1+i//per)) for i,t in enumerate(base)]

def drawn(tests, truth, rng):
    """Observed values of the tests, read by tape."""
    days={}
    made=[]
    for t in tests:
        o=observed(ROBOT,t)
        if t.date not in days: days[t.date]=rng.standard_normal(3)
        b=np.array([truth["bias."+k]+(truth["day."+k]*z) for k,z in zip(BIASES,days[t.date])])
        y=o.bias@b
        for name,part in o.parts.items():
            if name!="tape": y=y+truth[name]*(part@rng.standard_normal(part.shape[1]))
        step=np.sqrt(12*o.reading)
        if isinstance(t,TurnTest): base=t.commanded
        else: base=0
        y=np.round(y/step)*step
        made.append(replace(o,y=y))
    return made

Z=norm.ppf(np.clip(qmc.Sobol(2,rng=np.random.default_rng(3)).random(1024),1e-9,1-1e-9))
class Target:
    def __init__(self, tol, segs=(Straight(700.),Turn(90.),Straight(500.))):
        self.tol=tol
        _,self.x,parts=slopes(ROBOT,segs)
        self.x=self.x[:2]
        self.parts={n:p[:2]@p[:2].T for n,p in parts.items()}
    def __call__(self, names, values, aim, fixed={}):
        """values (n,d) -> shares"""
        n=len(values); col={k:values[:,i] for i,k in enumerate(names)}
        b=np.stack([col.get("bias."+k,np.full(n,fixed.get("bias."+k,0.0))) for k in BIASES],1)-aim
        mean=b@self.x.T
        cov=np.tile(np.eye(2)*0.5**2,(n,1,1))
        for name,p in self.parts.items():
            cov=cov+col.get(name,np.full(n,fixed.get(name,0.)))[:,None,None]**2*p
        for i,k in enumerate(BIASES):
            d=col.get("day."+k,np.full(n,fixed.get("day."+k,0.0)))
            cov=cov+d[:,None,None]**2*np.outer(self.x[:,i],self.x[:,i])
        root=np.linalg.cholesky(cov)
        out=np.empty(n)
        for a in range(0,n,512):
            pos=mean[a:a+512,None]+Z@np.swapaxes(root[a:a+512],1,2)
            out[a:a+512]=((pos**2).sum(-1)<self.tol**2).mean(1)
        return out

def wq(x,w,qs):
    i=np.argsort(x); c=np.cumsum(w[i])-w[i]/2
    return np.interp(qs,c,x[i])
