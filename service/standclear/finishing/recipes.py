"""How each kind of film file is made: container, codec, pixel format and settings. One table."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from types import MappingProxyType


@dataclass(frozen=True)
class Recipe:
    """One kind of film file.

    ``settings`` go to the video encoder; ``quality`` maps small/good/best to more of them.
    ``deep`` says that the pixel format carries more than 8 bits.
    """

    container: str
    extension: str
    media_type: str
    codec: str
    pixel_format: str
    sound_codec: str = "aac"
    sound_rate: int = 48_000
    codec_tag: str = ""
    deep: bool = False
    settings: Mapping[str, str] = field(default_factory=dict)
    quality: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    @property
    def is_mp4_family(self) -> bool:
        """MP4 and MOV share boxes: faststart, timecode track, colour tags."""
        return self.container in ("mp4", "mov")

    def container_settings(self, rate: Fraction) -> dict[str, str]:
        """Settings for the container at ``rate`` frames per second."""
        if not self.is_mp4_family:
            return {}
        scale = rate.numerator * (1 if rate.numerator >= 10_000 else 1000)
        return {"movflags": "+faststart+write_colr", "movie_timescale": str(scale)}


def _crf(small: int, good: int, best: int) -> dict[str, dict[str, str]]:
    values = {"small": small, "good": good, "best": best}
    return {name: {"crf": str(value)} for name, value in values.items()}


_QUIET_X265 = {"x265-params": "log-level=error"}

RECIPES: Mapping[str, Recipe] = MappingProxyType(
    {
        "h264": Recipe(
            "mp4", ".mp4", "video/mp4", "libx264", "yuv420p",
            settings={"preset": "medium"}, quality=_crf(24, 18, 12),
        ),
        "hevc": Recipe(
            "mp4", ".mp4", "video/mp4", "libx265", "yuv420p10le", codec_tag="hvc1", deep=True,
            settings={"preset": "medium"} | _QUIET_X265, quality=_crf(26, 20, 14),
        ),
        "av1": Recipe(
            "mp4", ".mp4", "video/mp4", "libsvtav1", "yuv420p10le", deep=True,
            settings={"preset": "8"}, quality=_crf(40, 28, 18),
        ),
        "prores": Recipe(
            "mov", ".mov", "video/quicktime", "prores_ks", "yuv422p10le", "pcm_s24le", deep=True,
            settings={"profile": "hq"},
        ),
        "webm": Recipe(
            "webm", ".webm", "video/webm", "libvpx-vp9", "yuv420p", "libopus",
            settings={"b:v": "0", "row-mt": "1", "deadline": "good", "cpu-used": "4"},
            quality=_crf(38, 28, 18),
        ),
    }
)  # fmt: skip
