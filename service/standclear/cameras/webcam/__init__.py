"""Webcams, network cameras and video files, through OpenCV's VideoCapture.

``source`` reads what stands in the id; ``device`` and ``film`` give frames; ``controls`` are a
device's settings; ``driver`` puts them together as one Camera.
"""

from standclear.cameras.webcam.driver import WebcamCamera

__all__ = ["WebcamCamera"]
