from io import BytesIO

import numpy as np

from followup.exchange import pictures
from followup.exchange.image_boxes import paint_file
from followup.models import IncomingImage
from followup.rules.image_boxes import Box
from followup.rules.image_files import Limits


def test_a_picture_is_black_in_its_boxes_and_as_before_elsewhere() -> None:
    greys = np.full((6, 8), 200, dtype=np.uint8)
    out = BytesIO()
    paint_file(
        IncomingImage(kind="png"), BytesIO(pictures.as_png(greys)), out, [Box(0, 2, 1, 5, 3)]
    )
    painted = pictures.read_picture(out, Limits())
    assert (painted[1:3, 2:5] == 0).all()
    assert (painted == 0).sum() == 6
    assert (painted[painted > 0] == 200).all()
