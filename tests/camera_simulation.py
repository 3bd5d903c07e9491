"""A seeded camera in front of a screen: perspective, blur, noise, light and JPEG.

No real camera was used; what each setting stands for is an assumption.
"""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True, slots=True)
class Camera:
    """How a picture is taken.

    Attributes:
        pixels: Camera pixels for one module, as an average.
        tilt: How far corners stray, in parts of the code's width.
        blur: Standard deviation of the lens's blur, in camera pixels.
        motion: Length of the blur by a moving hand, in camera pixels.
        noise: Standard deviation of noise, of 255.
        glare: Difference in light across the picture, of 255.
        quality: Of the JPEG, 1 to 100.
    """

    pixels: float
    tilt: float = 0.03
    blur: float = 0.6
    motion: int = 1
    noise: float = 5.0
    glare: float = 30.0
    quality: int = 85


EASY = Camera(pixels=6.0, tilt=0.01, blur=0.4, noise=2.0, glare=0.0, quality=95)
MIDDLE = Camera(pixels=4.0)
HARD = Camera(
    pixels=4.0, tilt=0.06, blur=1.0, motion=3, noise=9.0, glare=70.0, quality=70
)


def screen_of(rows, module_pixels=8, quiet=4):
    """Draw module rows as a screen shows them: an array of 0 and 255."""
    modules = np.array([list(row) for row in rows], np.uint8)
    modules = np.pad(modules, quiet)
    screen = np.where(modules, 0, 255).astype(np.uint8)
    return np.kron(screen, np.ones((module_pixels, module_pixels), np.uint8))


def capture(screen, modules_wide, camera, seed):
    """Photograph a screen.

    Args:
        screen: Grey picture of a code with its quiet zone.
        modules_wide: Modules across the picture, quiet zone included.
        camera: How the picture is taken.
        seed: The same seed gives the same picture.

    Returns:
        A grey picture, as wide as the camera's pixels a module ask for.
    """
    rng = np.random.default_rng(seed)
    size = screen.shape[0]
    width = modules_wide * camera.pixels
    margin = width * 0.15
    corners = np.float32([[0, 0], [size, 0], [size, size], [0, size]])
    target = corners / size * width + margin
    target += rng.uniform(-1, 1, (4, 2)) * camera.tilt * width
    matrix = cv2.getPerspectiveTransform(corners, target.astype(np.float32))
    side = int(width + 2 * margin)
    # Four times as many pixels, then averaged, as a sensor gathers light.
    enlarge = np.diag([4.0, 4.0, 1.0])
    fine = cv2.warpPerspective(
        screen, enlarge @ matrix, (side * 4, side * 4), borderValue=90
    )
    picture = cv2.resize(fine, (side, side), interpolation=cv2.INTER_AREA)
    picture = picture.astype(np.float32) * 0.8 + 25
    picture = cv2.GaussianBlur(picture, (0, 0), camera.blur)
    if camera.motion > 1:
        kernel = np.zeros((camera.motion, camera.motion), np.float32)
        kernel[camera.motion // 2] = 1 / camera.motion
        picture = cv2.filter2D(picture, -1, kernel)
    slope = np.linspace(-0.5, 0.5, side, dtype=np.float32) * camera.glare
    picture += slope + rng.normal(0, camera.noise, picture.shape)
    picture = np.clip(picture, 0, 255).astype(np.uint8)
    _, jpeg = cv2.imencode(
        ".jpg", picture, [int(cv2.IMWRITE_JPEG_QUALITY), camera.quality]
    )
    return cv2.imdecode(jpeg, cv2.IMREAD_GRAYSCALE)
