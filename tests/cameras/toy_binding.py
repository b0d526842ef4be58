"""A stand-in for the gphoto2 module, for what its virtual camera cannot do: pairs, events, faults.

Only what the driver uses. The numbers are libgphoto2's own (gphoto2-result.h, gphoto2-camera.h,
gphoto2-widget.h).
"""

from collections import deque
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

WIDGETS = {"radio": 5, "toggle": 4, "range": 3, "text": 2, "button": 7}


class GPhoto2Error(Exception):
    def __init__(self, code: int) -> None:
        super().__init__(f"[{code}]")
        self.code = code


class Widget:
    def __init__(self, name: str, value: Any, choices: tuple[str, ...] = (), **more: Any) -> None:
        self.name, self.value, self.choices = name, value, choices
        self.kind = more.get("kind", "radio" if choices else "text")
        self.readonly = more.get("readonly", 0)
        self.span = more.get("span", (0.0, 10.0, 1.0))

    def get_name(self) -> str:
        return self.name

    get_label = get_name

    def get_type(self) -> int:
        return WIDGETS[self.kind]

    def get_value(self) -> Any:
        return self.value

    def set_value(self, value: Any) -> None:
        self.value = value

    def get_choices(self) -> tuple[str, ...]:
        return self.choices

    def get_readonly(self) -> int:
        return self.readonly

    def get_range(self) -> tuple[float, ...]:
        return self.span


class Section:
    def __init__(self, name: str, children: list[Any]) -> None:
        self.name, self.children = name, children

    def get_name(self) -> str:
        return self.name

    def get_type(self) -> int:
        return 1

    def get_children(self) -> list[Any]:
        return self.children


class Body:
    """The camera itself, which outlives connections. ``captures`` holds what each capture does:
    the name of a file in ``files``, or the number of an error."""

    def __init__(self) -> None:
        self.port = "usb:001,004"
        self.model = "Toy DSC"
        self.folder = "/store_00010001/DCIM"
        self.files: dict[str, bytes] = {}
        self.told_sizes: dict[str, int] = {}
        self.captures: deque[str | int] = deque()
        self.events: deque[tuple[int, Any]] = deque()
        self.widgets: dict[str, Widget] = {}
        self.actions: dict[str, Widget] = {}
        self.previews: deque[bytes | int] = deque()
        self.fail: dict[str, int] = {}
        self.fail_once: dict[str, int] = {}
        self.opened = 0
        self.open_now = 0
        self.deleted: list[str] = []
        self.on_wait: Callable[[int], None] = lambda _: None

    def path(self, name: str) -> Any:
        return SimpleNamespace(folder=self.folder, name=name)

    def announce(self, name: str) -> None:
        self.events.append((ToyBinding.GP_EVENT_FILE_ADDED, self.path(name)))

    def check(self, call: str) -> None:
        for table, take in ((self.fail, self.fail.get), (self.fail_once, self.fail_once.pop)):
            if call in table:
                raise GPhoto2Error(take(call))


class Connection:
    def __init__(self, body: Body) -> None:
        self.body = body

    def init(self) -> None:
        self.body.check("init")
        self.body.opened += 1
        self.body.open_now += 1

    def exit(self) -> None:
        self.body.open_now -= 1
        self.body.check("exit")

    def set_port_info(self, port: str) -> None:
        if port != self.body.port:
            raise GPhoto2Error(-52)

    def get_abilities(self) -> Any:
        operations = ToyBinding.GP_OPERATION_CAPTURE_PREVIEW if self.body.previews else 0
        return SimpleNamespace(model=self.body.model, operations=operations)

    def get_config(self) -> Section:
        self.body.check("get_config")
        groups = [("actions", self.body.actions), ("settings", self.body.widgets)]
        return Section("main", [Section(name, list(all_.values())) for name, all_ in groups])

    def get_single_config(self, name: str) -> Widget:
        self.body.check("get_single_config")
        everything = {**self.body.actions, **self.body.widgets}
        if name not in everything:
            raise GPhoto2Error(-2)
        found = everything[name]
        copy = Widget(name, found.value, found.choices, kind=found.kind, readonly=found.readonly)
        copy.span = found.span
        return copy

    def set_single_config(self, name: str, widget: Widget) -> None:
        self.body.check("set_single_config")
        self.body.widgets[name].value = widget.value

    def capture(self, _: int) -> Any:
        outcome = self.body.captures.popleft()
        if isinstance(outcome, int):
            raise GPhoto2Error(outcome)
        return self.body.path(outcome)

    def capture_preview(self) -> Any:
        if len(self.body.previews) > 1:
            outcome = self.body.previews.popleft()
        else:
            outcome = self.body.previews[0]
        if isinstance(outcome, int):
            raise GPhoto2Error(outcome)
        return SimpleNamespace(get_data_and_size=lambda: memoryview(outcome))

    def wait_for_event(self, wait_ms: int) -> tuple[int, Any]:
        self.body.check("wait_for_event")
        if self.body.events:
            return self.body.events.popleft()
        self.body.on_wait(wait_ms)
        return ToyBinding.GP_EVENT_TIMEOUT, None

    def file_get_info(self, _: str, name: str) -> Any:
        self.body.check("file_get_info")
        size = self.body.told_sizes.get(name, len(self.body.files[name]))
        return SimpleNamespace(file=SimpleNamespace(fields=4, size=size))

    def file_get(self, _: str, name: str, *__: Any) -> Any:
        self.body.check("file_get")
        return SimpleNamespace(get_data_and_size=lambda: memoryview(self.body.files[name]))

    def file_delete(self, _: str, name: str) -> None:
        self.body.deleted.append(name)

    def get_storageinfo(self) -> list[Any]:
        self.body.check("get_storageinfo")
        return [SimpleNamespace(fields=0, freeimages=7, freekbytes=7)]


class ToyBinding:
    GP_CAPTURE_IMAGE = 0
    GP_EVENT_TIMEOUT = 1
    GP_EVENT_FILE_ADDED = 2
    GP_FILE_TYPE_NORMAL = 1
    GP_FILE_INFO_SIZE = 4
    GP_OPERATION_CAPTURE_PREVIEW = 8
    GP_STORAGEINFO_FREESPACEKBYTES = 128
    GP_STORAGEINFO_FREESPACEIMAGES = 256
    GP_WIDGET_WINDOW, GP_WIDGET_SECTION = 0, 1
    GP_WIDGET_TEXT, GP_WIDGET_RANGE, GP_WIDGET_TOGGLE = 2, 3, 4
    GP_WIDGET_RADIO, GP_WIDGET_MENU, GP_WIDGET_BUTTON, GP_WIDGET_DATE = 5, 6, 7, 8
    GPhoto2Error = GPhoto2Error

    def __init__(self, body: Body) -> None:
        found = [(body.model, body.port)]
        listing = SimpleNamespace(
            count=lambda: len(found),
            get_name=lambda _: body.model,
            get_value=lambda _: body.port,
        )

        class Camera(Connection):
            def __init__(self) -> None:
                super().__init__(body)

            @staticmethod
            def autodetect() -> Any:
                return listing

        self.Camera = Camera

    class Context:
        def set_progress_funcs(self, *_: Any) -> None:
            return None

    class PortInfoList(dict):  # type: ignore[type-arg]
        def load(self) -> None:
            return None

        def lookup_path(self, path: str) -> str:
            self[path] = path
            return path
