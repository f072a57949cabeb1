"""What pictures say, as values: mm, degrees, pixels, field frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from fieldsim.answers import Perhaps, Told

SPOILERS = (
    "no markers", "no field marker", "no robot marker", "few", "cut off", "blurred", "glare", "hidden", "twice",
    "moved", "misplaced", "doubtful", "size", "height wrong", "height", "printed", "flat",
)  # fmt: skip


@dataclass(frozen=True)
class Spoiler:
    """Something that spoils a picture, or all of them."""

    kind: Annotated[str, Told(one_of=SPOILERS)]
    marker: Annotated[int | None, "which marker, None for the picture as a whole"] = None
    amount: Annotated[
        float | None,
        "moved, misplaced: mm; size, height, height wrong: mm it seems to be; printed, glare: share; blurred: pixels; "
        "flat: degrees above the mat; few: how many are seen",
    ] = None


@dataclass(frozen=True)
class PhotoPose:
    """Where the robot stood: mm and degrees, with standard deviations."""

    x: float
    y: float
    heading: float
    x_error: float
    y_error: float
    heading_error: float


@dataclass(frozen=True)
class PhotoPicture:
    """One picture."""

    file: str
    width: Annotated[int, "pixels"]
    height: Annotated[int, "pixels"]
    seen: Annotated[tuple[int, ...], "numbers of the set-up's markers found in it"]
    robot: Annotated[PhotoPose | None, "None where it cannot be told"]
    spoilers: tuple[Spoiler, ...]


@dataclass(frozen=True)
class PhotoCamera:
    """The camera as the pictures tell it."""

    focal: Annotated[float, "in long sides of the picture"]
    lens: Annotated[tuple[float, float], "the two radial terms"]
    pixel: Annotated[float, "standard deviation of a corner, pixels"]
    printed: Annotated[float, "what the printer made of a size, as a share of it"]


@dataclass(frozen=True)
class PhotoMarker:
    """Where a marker of the field lies, as the pictures tell it; mm and degrees from where the field's file says."""

    number: int
    counted: Annotated[bool, "False if it was left out because it does not fit the others"]
    x_off: Perhaps
    y_off: Perhaps
    turned: Perhaps


@dataclass(frozen=True)
class PhotoAgainst:
    """One reading of a test against the forecast of the robot's file."""

    reading: Annotated[str, Told(one_of=("travel", "sideways", "heading", "angle", "return x", "return y"))]
    off: Annotated[float, "mm or degrees more than the robot's known errors make of the command"]
    z: Annotated[float, "how many standard deviations that is"]


@dataclass(frozen=True)
class PhotoRow:
    """A row for a test sheet or a log, as its columns are called there."""

    pictures: Annotated[tuple[str, ...], "the files it is made of"]
    cells: Annotated[tuple[tuple[str, str], ...], "column and text"]
    against: Annotated[tuple[PhotoAgainst, ...], "each reading of a test against what was forecast of it"] = ()


@dataclass(frozen=True)
class PhotoMove:
    """One drive seen in a film, in the frame of the pose before it: mm and degrees, left positive."""

    kind: Literal["straight", "turn"]
    begin: Annotated[float, "seconds of the film"]
    end: Annotated[float, "likewise"]
    ahead: float
    left: float
    turned: float


@dataclass(frozen=True)
class PhotoFilm:
    """What a film shows."""

    file: str
    frames: int
    told: Annotated[int, "frames that tell where the robot was"]
    seconds: Annotated[float, "how long it is"]
    error: Annotated[float, "mm: the middle standard deviation of a place"]
    heading_error: Annotated[float, "degrees, likewise"]
    moves: tuple[PhotoMove, ...]


@dataclass(frozen=True)
class PhotoAnswer:
    """What pictures of one set-up say."""

    command: ClassVar[Literal["photo"]] = "photo"
    version: Annotated[str, "of fieldsim"]
    field: str
    robot: str
    pictures: tuple[PhotoPicture, ...]
    camera: PhotoCamera | None
    markers: tuple[PhotoMarker, ...]
    spoilers: Annotated[tuple[Spoiler, ...], "what spoils all pictures"]
    rows_for: Annotated[str | None, Told(one_of=("tests", "log"))] = None
    rows: tuple[PhotoRow, ...] = ()
    film: Annotated[PhotoFilm | None, "None for photos"] = None

    @property
    def placed(self) -> int:
        """How many pictures tell where the robot stood."""
        return sum(each.robot is not None for each in self.pictures)
