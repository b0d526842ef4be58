"""The one place that holds the binding's Camera object."""

from typing import Any


class Link:
    """A connection made with the binding ``gp``; ``camera`` is its Camera until dropped.

    Everything reaches the Camera through its Link and never keeps it in a variable: an error that
    somebody holds on to keeps the variables of its traceback alive, and freeing an old Camera after
    a new one was opened on the same port takes the new one down with it (seen with libgphoto2
    2.5.34). For the same reason ``ports``, into whose list the Camera points, lives here.
    """

    def __init__(self, gp: Any, camera: Any, ports: Any = None) -> None:
        self.gp = gp
        self.camera = camera
        self.ports = ports

    def drop(self) -> None:
        """End the connection; never raises."""
        camera, self.camera = self.camera, None
        if camera is not None:
            try:
                camera.exit()
            except self.gp.GPhoto2Error:
                return  # it was gone already
