"""The camera's own settings ("widgets" in libgphoto2) as Standclear's.

Actions (a release, a focus drive, raw commands) are left out: setting one would do something
rather than set something, a picture behind the animator's back among it.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from standclear.cameras.base import SETTING_NAMES, NotOffered, Setting
from standclear.cameras.tethered import faults, values
from standclear.cameras.tethered.link import Link

#: Under which names cameras offer the six, the one to prefer first.
CANDIDATES: Mapping[str, Sequence[str]] = {
    "shutter": ("shutterspeed2", "shutterspeed", "exptime"),
    "aperture": ("aperture", "f-number"),
    "iso": ("iso", "isospeed"),
    "white_balance": ("whitebalance",),
    "focus": ("focusmode2", "focusmode", "autofocus"),
    "exposure_mode": ("expprogram", "autoexposuremode", "exposuremode", "shootingmode"),
}
_FORMATS = ("imageformat", "imagequality", "imagesize", "imageformatsd", "imageformatcf")
_ACTIONS = "actions"
_ON_OFF = ("off", "on")


class Widgets:
    """The settings of one open camera. The values last read are remembered in ``values``."""

    def __init__(self, link: Link) -> None:
        self._link = link
        self._gp = link.gp
        self._names: dict[str, str] = {}
        self._formats: list[str] = []
        self._reachable: set[str] = set()
        self.values: dict[str, str] = {}

    def learn(self) -> None:
        """Find out which widgets this camera has; asks for the whole tree, so slow."""
        self.all()

    def all(self) -> list[Setting]:
        """The six that it has, in our order, then its own by widget name."""
        tree = self._link.camera.get_config()  # the leaves live as long as the tree
        leaves = {leaf.get_name(): leaf for leaf in self._leaves(tree)}
        self._reachable = set(leaves)
        self._formats = [name for name in _FORMATS if name in leaves]
        self._names = {}
        for name in SETTING_NAMES:
            offered = [each for each in CANDIDATES[name] if each in leaves]
            offered.sort(key=lambda each: bool(leaves[each].get_readonly()))
            if offered:
                self._names[name] = offered[0]
        self.values = {name: self._value(name, leaves[own]) for name, own in self._names.items()}
        mapped = [self._setting(name, leaves[own]) for name, own in self._names.items()]
        taken = set(self._names.values())
        return mapped + [
            self._setting(own, leaf) for own, leaf in leaves.items() if own not in taken
        ]

    def refresh(self, *names: str) -> dict[str, str]:
        """Read some of the six (all without names) again, one by one, which is quick; what cannot
        be read stays as it was, unless the camera is away."""
        for name in names or tuple(self._names):
            own = self._names.get(name)
            try:
                if own:
                    self.values[name] = self._value(name, self._link.camera.get_single_config(own))
            except self._gp.GPhoto2Error as error:
                if faults.is_away(error):
                    raise
        return dict(self.values)

    def picture_format(self) -> str:
        """The camera's own words for its picture format, as set now; empty where it has none."""
        words = []
        for name in self._formats:
            try:
                words.append(str(self._link.camera.get_single_config(name).get_value()))
            except self._gp.GPhoto2Error as error:
                if faults.is_away(error):
                    raise
        return " | ".join(words)

    def choose(self, own: str, pattern: Any) -> None:
        """Set a widget to its first choice that the pattern fits, if it has both."""
        try:
            widget = self._link.camera.get_single_config(own)
            fitting = [each for each in self._choices(widget) if pattern.search(each)]
            if fitting and widget.get_value() not in fitting:
                widget.set_value(fitting[0])
                self._link.camera.set_single_config(own, widget)
        except self._gp.GPhoto2Error as error:
            if faults.is_away(error):
                raise

    def change(self, name: str, value: str) -> None:
        """Set one, by our name or the widget's, to a value as shown or the camera's own."""
        own = self._names.get(name, name)
        try:
            widget = self._link.camera.get_single_config(own)
        except self._gp.GPhoto2Error as error:
            if faults.is_away(error):
                raise
            raise NotOffered(f"This camera has no setting {name!r}.") from error
        if own not in self._reachable:
            raise NotOffered(f"{name!r} is an action of the camera, not a setting.")
        if widget.get_readonly():
            raise NotOffered(f"{name!r} cannot be set over USB; set it on the camera.")
        self._write(name, own, widget, value)

    def _write(self, name: str, own: str, widget: Any, value: str) -> None:
        widget.set_value(self._to_camera(name, widget, value))
        try:
            self._link.camera.set_single_config(own, widget)
        except self._gp.GPhoto2Error as error:
            if faults.is_away(error):
                raise
            says = f"The camera refused {name!r} = {value!r} ({error})."
            raise NotOffered(says) from error
        if name in self._names:
            self.refresh(name)

    def _to_camera(self, name: str, widget: Any, value: str) -> Any:
        kind = widget.get_type()
        choices = self._choices(widget)
        if choices:
            shown = values.readable_choices(name, choices)
            if value in shown or value in choices:
                return shown.get(value, value)
            some = ", ".join(list(shown)[:12])
            raise NotOffered(f"{name!r} cannot be {value!r}; this camera offers: {some}.")
        if kind == self._gp.GP_WIDGET_TOGGLE:
            if value not in _ON_OFF:
                raise NotOffered(f"{name!r} can be on or off, not {value!r}.")
            return _ON_OFF.index(value)
        if kind == self._gp.GP_WIDGET_RANGE:
            return self._in_range(name, widget, value)
        if kind == self._gp.GP_WIDGET_TEXT:
            return value
        raise NotOffered(f"{name!r} cannot be set from here; set it on the camera.")

    @staticmethod
    def _in_range(name: str, widget: Any, value: str) -> float:
        low, high, _ = widget.get_range()
        try:
            number = float(value)
        except ValueError:
            number = float("nan")
        if not low <= number <= high:
            raise NotOffered(f"{name!r} takes a number from {low:g} to {high:g}, not {value!r}.")
        return number

    def _leaves(self, tree: Any) -> Iterator[Any]:
        for child in tree.get_children():
            kind = child.get_type()
            if kind in (self._gp.GP_WIDGET_SECTION, self._gp.GP_WIDGET_WINDOW):
                if child.get_name() != _ACTIONS:
                    yield from self._leaves(child)
            elif kind != self._gp.GP_WIDGET_BUTTON:
                yield child

    def _choices(self, widget: Any) -> list[str]:
        listed = (self._gp.GP_WIDGET_RADIO, self._gp.GP_WIDGET_MENU)
        return [str(each) for each in widget.get_choices()] if widget.get_type() in listed else []

    def _value(self, name: str, widget: Any) -> str:
        value = widget.get_value()
        kind = widget.get_type()
        if kind == self._gp.GP_WIDGET_TOGGLE:
            return _ON_OFF[value] if value in (0, 1) else "unknown"
        if kind == self._gp.GP_WIDGET_RANGE:
            return f"{value:g}"
        return values.readable(name, str(value if value is not None else ""))

    def _setting(self, name: str, widget: Any) -> Setting:
        automatic = None
        if name in self._names:
            mode = self.values.get("exposure_mode")
            automatic = values.is_automatic(name, self.values[name], mode)
        bounds: tuple[float | None, ...] = (None, None, None)
        if widget.get_type() == self._gp.GP_WIDGET_RANGE:
            bounds = tuple(widget.get_range())
        return Setting(
            name=name,
            label=str(widget.get_label()),
            value=self._value(name, widget),
            choices=tuple(values.readable_choices(name, self._choices(widget))),
            automatic=automatic,
            writable=not widget.get_readonly() and widget.get_type() != self._gp.GP_WIDGET_DATE,
            minimum=bounds[0],
            maximum=bounds[1],
            step=bounds[2],
        )
