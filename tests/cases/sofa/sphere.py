"""Makes sphere.sofa: a rigid sphere of 87.5 mm as a measured head, in air where sound has 343 m/s.

The sphere is computed apart from the program, by the spherical Bessel functions of scipy; the file is written and verified by the
package sofar for Python (AES69-2022) through netCDF4:

    pip install numpy scipy sofar && python sphere.py

Sound passes the middle of the head 1 ms after the first sample that is heard (Data.Delay included, whole samples, other ones for each
direction and ear), at a third of its pressure: a reader must not mind either. Values are rounded to 2^-15 so that the file is small.
"""

import numpy as np
import sofar
from scipy.special import eval_legendre, spherical_jn, spherical_yn

RADIUS, SPEED, RATE, TAPS, LENGTH = 0.0875, 343.0, 44100, 128, 2048

frequency = np.fft.rfftfreq(LENGTH, 1 / RATE)
mu = np.maximum(2 * np.pi * frequency * RADIUS / SPEED, 1e-3)


def sphere(cosine):
    """Pressure of a plane wave, re the center without the sphere, time as e^(+jwt)."""
    total = np.zeros(len(mu), complex)
    for n in range(80):
        # Far beyond the argument functions leave the range of numbers: nothing is left of their terms.
        with np.errstate(all="ignore"):
            slope = spherical_jn(n, mu, True) - 1j * spherical_yn(n, mu, True)
            term = (2 * n + 1) * 1j**n * eval_legendre(n, cosine) / slope
        total += np.where(np.isfinite(slope) & (np.abs(slope) < 1e150), term, 0)
    return -1j / mu**2 * total


share = 0.5 + 0.5 * np.cos(np.pi * np.clip((frequency - 18000) / 4000, 0, 1))
sources = [(azimuth, elevation) for elevation in (-40, -20, 0, 20, 40, 60) for azimuth in range(0, 360, 20)] + [(0, 90)]
filters, delays = [], []
for number, (azimuth, elevation) in enumerate(sources):
    across = np.sin(np.radians(azimuth)) * np.cos(np.radians(elevation))
    pair, later = [], []
    for ear, cosine in enumerate((across, -across)):
        delay = (number + 3 * ear) % 7
        turn = np.exp(-2j * np.pi * frequency * (0.001 - delay / RATE))
        pair.append(np.fft.irfft(sphere(cosine) * share * turn, LENGTH)[:TAPS] / 3)
        later.append(delay)
    filters.append(pair)
    delays.append(later)

head = sofar.Sofa("SimpleFreeFieldHRIR")
head.GLOBAL_Title = "A rigid sphere"
head.GLOBAL_ListenerShortName = "sphere"
head.GLOBAL_License = "CC0"
head.GLOBAL_DateCreated = head.GLOBAL_DateModified = "2026-01-01 00:00:00"
head.SourcePosition = np.array([(azimuth, elevation, 1.5) for azimuth, elevation in sources], float)
head.ReceiverPosition = np.array([[0, RADIUS, 0], [0, -RADIUS, 0]])
head.Data_IR = np.round(np.array(filters) * 2**15) / 2**15
head.Data_Delay = np.array(delays, float)
head.Data_SamplingRate = RATE
head.verify()
sofar.write_sofa("sphere.sofa", head, compression=9)
