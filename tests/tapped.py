"""Photos of drawn tips, filed at a valve, and the taps of a steady hand on them."""

import io
import json
from typing import Any
from uuid import uuid4

from PIL import Image

from builds.models import MediaType, Photo, PhotoFiling, PhotoKind
from builds.photos.storage import fresh_path, put
from tests.scenes import Scene
from valvetrain.mark_photos import READINGS
from valvetrain.tip_picture import TipPicture, TipScene, draw_tip

# The tips of the scene's head measure this across [in].
DIAMETER = 0.342


def tip(**how: Any) -> TipPicture:
    """A small picture of a tip: the shaft to the left, the front of the engine up."""
    return draw_tip(
        TipScene(
            **{
                "inner": -0.030, "outer": 0.041, "rim_diameter": DIAMETER, "chamfer": 0.0, "size": (800, 600),
                "pixels_across": 420.0, "tilt": 15.0, **how,
            }
        )
    )  # fmt: skip


def photo_of(
    picture: TipPicture, scene: Scene, position: str = "1E", kind: str = PhotoKind.WITNESS_MARK
) -> Photo:
    """The picture as a photo of the scene's job, filed at an address."""
    file = io.BytesIO()
    Image.fromarray(picture.pixels).save(file, "JPEG", quality=93)
    path = fresh_path(MediaType.JPEG)
    put(path, file.getvalue())
    width, height = picture.scene.size
    photo = Photo(
        build=scene.build, name="tip.jpg", media_type=MediaType.JPEG, size=len(file.getvalue()), sha256="0" * 64,
        sent_sha256="0" * 64, width=width, height=height, path=path, taken_by=scene.person,
    )  # fmt: skip
    photo.save()
    file_at(photo, position, scene, kind=kind)
    return photo


def file_at(photo: Photo, position: str, scene: Scene, **how: Any) -> None:
    """File a photo anew."""
    filing = {"kind": PhotoKind.WITNESS_MARK, "filed_by": scene.person, **how}
    PhotoFiling(photo=photo, position=position, **filing).save()


def taps_on(picture: TipPicture, **changed: Any) -> dict[str, Any]:
    """Taps at the very places, as the page sends them."""
    return {
        "rim": picture.rim_points(8).tolist(), "inner": picture.inner_points(3).tolist(),
        "outer": picture.outer_points(3).tolist(), "toward_shaft": "left", "toward_front": "up", "stem_at": "",
        "rim_diameter": {"text": f"{picture.scene.rim_diameter}", "unit": "in"}, **changed,
    }  # fmt: skip


def sent(taps: dict[str, Any], **more: str) -> dict[str, str]:
    """What the page posts to save them."""
    ids = {name: str(uuid4()) for name in READINGS}
    return {"taps": json.dumps(taps), "ids": json.dumps(ids), **more}
