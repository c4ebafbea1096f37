"""A face in a picture: the landmarks of a face mesh that speaking and smiling hardly move.

Of one face seen again and again, the size of many points differs less than that of a few: 1.3 % of
25 points became 1.0 % of these (`tests.benchmarks.repeatability` has what is left in a run). Lips
and chin are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from assist.base.images import ColourImage
from optics.checks import FloatArray

# fmt: off
MESH_POINTS = (
    33, 133, 362, 263,  # corners of the eyes, from the person's right to the left
    168, 6, 197, 195, 5, 4, 1,  # down the nose
    10, 151, 9, 8,  # down the forehead
    127, 356, 234, 454, 93, 323, 132, 361, 116, 345,  # temples, in front of the ears, cheeks
    # All others above the mouth, and of the lower face its sides; in the mesh's own order.
    2, 3, 7, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 34, 35, 36, 44, 45, 46, 47, 48,
    49, 50, 51, 52, 53, 54, 55, 56, 58, 59, 60, 63, 64, 65, 66, 67, 68, 69, 70, 71, 75, 79, 94,
    97, 98, 99, 100, 101, 102, 103, 104, 105, 107, 108, 109, 110, 111, 112, 113, 114, 115, 117,
    118, 119, 120, 121, 122, 123, 124, 125, 126, 128, 129, 130, 131, 134, 135, 137, 138, 139,
    141, 142, 143, 144, 145, 147, 153, 154, 155, 156, 157, 158, 159, 160, 161, 162, 163, 166,
    172, 173, 174, 177, 187, 188, 189, 190, 192, 193, 196, 198, 203, 205, 207, 209, 213, 214,
    215, 217, 218, 219, 220, 221, 222, 223, 224, 225, 226, 227, 228, 229, 230, 231, 232, 233,
    235, 236, 237, 238, 239, 240, 241, 242, 243, 244, 245, 246, 247, 248, 249, 250, 251, 252,
    253, 254, 255, 256, 257, 258, 259, 260, 261, 264, 265, 266, 274, 275, 276, 277, 278, 279,
    280, 281, 282, 283, 284, 285, 286, 288, 289, 290, 293, 294, 295, 296, 297, 298, 299, 300,
    301, 305, 309, 326, 327, 328, 329, 330, 331, 332, 333, 334, 336, 337, 338, 339, 340, 341,
    342, 343, 344, 346, 347, 348, 349, 350, 351, 352, 353, 354, 355, 357, 358, 359, 360, 363,
    364, 366, 367, 368, 370, 371, 372, 373, 374, 376, 380, 381, 382, 383, 384, 385, 386, 387,
    388, 389, 390, 392, 397, 398, 399, 401, 411, 412, 413, 414, 416, 417, 419, 420, 423, 425,
    427, 429, 433, 434, 435, 437, 438, 439, 440, 441, 442, 443, 444, 445, 446, 447, 448, 449,
    450, 451, 452, 453, 455, 456, 457, 458, 459, 460, 461, 462, 463, 464, 465, 466, 467,
)
# fmt: on
"""Which points of MediaPipe's face mesh are kept, in this order."""
EYE_CORNERS = slice(0, 4)
COUNT = len(MESH_POINTS)


@dataclass(frozen=True, slots=True)
class Face:
    """One face in one picture.

    points_px: (COUNT, 3) MESH_POINTS: x and y in pixels of the picture, from its outer edge; z in
        the same pixels, away from the camera, from the middle of the head.
    """

    points_px: FloatArray

    def __post_init__(self) -> None:
        if self.points_px.shape != (COUNT, 3):
            raise ValueError(f"points_px: expected ({COUNT}, 3), got {self.points_px.shape}")


class FaceFinder(Protocol):
    """Finds the face near a place in successive pictures of one person."""

    def find(self, picture: ColourImage, middle_px: FloatArray, half_px: float) -> Face | None:
        """The face within the square of half-side `half_px` round `middle_px` (2,), if any."""
        ...

    def close(self) -> None:
        """Free the network; safe to call twice."""
        ...
