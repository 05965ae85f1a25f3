"""Things painted over eyes: what tells an invented pupil from a real one."""
import sys
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))
from cropper.subject import turn
from cropper.subject.detecting import ordinary
from cropper.subject.engine import engine
from cropper.subject.meshing import confirmed
from cropper.subject.pyramid import Pyramid
from tests.models.varieties import DEMO, loaded

native, rng = engine(), np.random.default_rng(0)


def occlude(im,f,kind,rng):
    im=im.copy(); L,R=f.pupils; d=np.linalg.norm(R-L); m=(L+R)/2; u=(R-L)/d; v=np.array([-u[1],u[0]])
    def quad(c,a,b): return np.int32([c-u*a-v*b,c+u*a-v*b,c+u*a+v*b,c-u*a+v*b])
    skin=im[tuple(np.int32(f.points[205,1::-1]))].tolist()
    if kind=='blackbar': cv2.fillPoly(im,[quad(m,1.05*d,.28*d)],(5,5,5))
    if kind=='greybar': cv2.fillPoly(im,[quad(m,1.2*d,.35*d)],(140,130,125))
    if kind=='skinbar': cv2.fillPoly(im,[quad(m,1.2*d,.4*d)],skin)
    if kind=='cloth':
        q=quad(m,1.3*d,.45*d); mk=np.zeros(im.shape[:2],np.uint8); cv2.fillPoly(mk,[q],1); n=(rng.normal(110,35,(im.shape[0]//4+1,im.shape[1]//4+1,1)).clip(0,255)).astype(np.uint8); n=cv2.resize(n,im.shape[1::-1])[...,None]*np.array([1,.6,.4]); im[mk>0]=n[mk>0].astype(np.uint8)
    if kind=='shades':
        for c in (L,R): 
            ang=np.degrees(np.arctan2(u[1],u[0])); cv2.ellipse(im,(int(c[0]),int(c[1]+.05*d)),(int(.42*d),int(.33*d)),ang,0,360,(15,14,16),-1)
        cv2.line(im,tuple(np.int32(L)),tuple(np.int32(R)),(15,14,16),max(1,int(.06*d)))
    if kind=='glasses':
        for c in (L,R):
            ang=np.degrees(np.arctan2(u[1],u[0])); cv2.ellipse(im,(int(c[0]),int(c[1]+.05*d)),(int(.42*d),int(.33*d)),ang,0,360,(25,24,26),max(1,int(.05*d)))
        cv2.line(im,tuple(np.int32(L+.42*d*u)),tuple(np.int32(R-.42*d*u)),(15,14,16),max(1,int(.06*d)))
    if kind=='brim': cv2.fillPoly(im,[quad(m-v*.7*d,1.6*d,.85*d)],(60,45,30))
    if kind=='dark': im=(im.astype(float)**1.6/255**.6*.6).astype(np.uint8)
    if kind=='blur': im=cv2.GaussianBlur(im,(0,0),.06*d)
    return im


for kind in ("none", "dark", "blur", "glasses", "shades", "blackbar", "greybar", "skinbar", "cloth", "brim"):
    for path in sorted(DEMO.glob("*.jpg")):
        pixels, _ = loaded(path)
        pyramid = Pyramid(pixels)
        for sighting in ordinary(native, pyramid):
            plain = confirmed(native, pyramid, sighting)
            if plain is None or plain.assurance < 1.3:
                continue
            painted = Pyramid(occlude(pixels, plain, kind, rng) if kind != "none" else pixels)
            face = confirmed(native, painted, sighting)
            if face is None:
                print(kind, path.stem, "lost")
                continue
            piece = painted.piece(face.middle, 2 * face.side, angle_deg=face.angle_deg)
            print(f"{kind:9} {path.stem:32} assurance {face.assurance:.2f} spread {face.spread:.4f}"
                  f" openness {max(turn.openness_of(face)):.2f} {turn.eyes_state(face, piece)}")
