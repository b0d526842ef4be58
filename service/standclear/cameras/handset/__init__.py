"""A phone, tablet or other browser as the camera, through the page `/handset`."""

from standclear.cameras.handset.driver import HandsetCamera
from standclear.cameras.handset.link import Facts, HandsetLink, Photo, PlaceTaken
from standclear.cameras.handset.links import HandsetLinks

__all__ = ["Facts", "HandsetCamera", "HandsetLink", "HandsetLinks", "Photo", "PlaceTaken"]
