"""Makes sun.json: the sun's position, day lengths and sums on planes by formulas other than the program's.

    python tests/independent/sun.py      (needs NumPy; a few seconds)

- `positions`: the sun seen from places at moments, from Meeus 1998 (Astronomical Algorithms), chapter 25, "higher
  accuracy": the truncated VSOP87 series of chapter 32 (appendix III) for the earth, with the largest terms of the
  nutation of chapter 22; within 0.001 degrees. Refraction left out, parallax included.
- `fourier`: declination (degrees) and equation of time (minutes) from the series of Spencer 1971; the series itself is
  good to 0.035 degrees and 0.6 minutes (it knows no leap years).
- `daylight`: hours between sunrise and sunset by stepping through the day at one second.
- `planes`: irradiation in a year on tilted planes by brute force: for every minute of every day the vector of the sun
  times the normal of the plane, with the sky's clearness constant (0.45), Erbs's split and the sky of Hay and Davies with the
  brighter horizon of Reindl.
"""

import json
import pathlib

import numpy as np

HERE = pathlib.Path(__file__).resolve().parent
RAD = np.pi / 180.0

# Earth, VSOP87 truncated (Meeus 1998, appendix III): A, B, C of A cos(B + C tau), 1e-8 radians.
L0 = [(175347046, 0, 0), (3341656, 4.6692568, 6283.0758500), (34894, 4.62610, 12566.15170), (3497, 2.7441, 5753.3849),
      (3418, 2.8289, 3.5231), (3136, 3.6277, 77713.7715), (2676, 4.4181, 7860.4194), (2343, 6.1352, 3930.2097),
      (1324, 0.7425, 11506.7698), (1273, 2.0371, 529.6910), (1199, 1.1096, 1577.3435), (990, 5.233, 5884.927),
      (902, 2.045, 26.298), (857, 3.508, 398.149), (780, 1.179, 5223.694), (753, 2.533, 5507.553),
      (505, 4.583, 18849.228), (492, 4.205, 775.523), (357, 2.920, 0.067), (317, 5.849, 11790.629),
      (284, 1.899, 796.298), (271, 0.315, 10977.079), (243, 0.345, 5486.778), (206, 4.806, 2544.314),
      (205, 1.869, 5573.143), (202, 2.458, 6069.777), (156, 0.833, 213.299), (132, 3.411, 2942.463),
      (126, 1.083, 20.775), (115, 0.645, 0.980), (103, 0.636, 4694.003), (102, 0.976, 15720.839),
      (102, 4.267, 7.114)]
L1 = [(628331966747, 0, 0), (206059, 2.678235, 6283.075850), (4303, 2.6351, 12566.1517), (425, 1.590, 3.523),
      (119, 5.796, 26.298), (109, 2.966, 1577.344)]
L2 = [(52919, 0, 0), (8720, 1.0721, 6283.0758), (309, 0.867, 12566.152)]
R0 = [(100013989, 0, 0), (1670700, 3.0984635, 6283.0758500), (13956, 3.05525, 12566.15170), (3084, 5.1985, 77713.7715),
      (1628, 1.1739, 5753.3849), (1576, 2.8469, 7860.4194), (925, 5.453, 11506.770), (542, 4.564, 3930.210),
      (472, 3.661, 5884.927), (346, 0.964, 5507.553), (329, 5.900, 5223.694), (307, 0.299, 5573.143)]
R1 = [(103019, 1.107490, 6283.075850), (1721, 1.0644, 12566.1517)]


def series(terms, tau):
    return sum(a * np.cos(b + c * tau) for a, b, c in terms) * 1e-8


def coordinates(jd):
    """Right ascension, declination (radians), distance, sidereal time (degrees) of a Julian day of universal time."""
    t = (jd + 69.0 / 86400.0 - 2451545.0) / 36525.0
    tau = t / 10.0
    earth = series(L0, tau) + series(L1, tau) * tau + series(L2, tau) * tau * tau
    r = series(R0, tau) + series(R1, tau) * tau
    omega = (125.04452 - 1934.136261 * t) * RAD
    sun = (280.4665 + 36000.7698 * t) * RAD
    moon = (218.3165 + 481267.8813 * t) * RAD
    d_psi = (-17.20 * np.sin(omega) - 1.32 * np.sin(2 * sun) - 0.23 * np.sin(2 * moon) + 0.21 * np.sin(2 * omega)) / 3600
    d_eps = (9.20 * np.cos(omega) + 0.57 * np.cos(2 * sun) + 0.10 * np.cos(2 * moon) - 0.09 * np.cos(2 * omega)) / 3600
    eps = (23.4392911 - 0.0130041667 * t + d_eps) * RAD
    # To the FK5 system, nutation, aberration.
    lam = earth + np.pi + (-0.09033 / 3600 + d_psi - 20.4898 / 3600 / r) * RAD
    ra = np.arctan2(np.cos(eps) * np.sin(lam), np.cos(lam))
    dec = np.arcsin(np.sin(eps) * np.sin(lam))
    sidereal = 280.46061837 + 360.98564736629 * (jd - 2451545.0) + 0.000387933 * t * t + d_psi * np.cos(eps)
    return ra, dec, r, sidereal


def seen(latitude, longitude, jd):
    """Elevation and azimuth by rotating vectors, the observer's place subtracted."""
    ra, dec, r, sidereal = coordinates(jd)
    s = (sidereal + longitude) * RAD
    phi = latitude * RAD
    x = np.cos(dec) * np.array([np.cos(ra), np.sin(ra), 0.0]) + np.sin(dec) * np.array([0.0, 0.0, 1.0])
    earth_radius = 6378.137 / 149597870.7 / r
    up = np.array([np.cos(phi) * np.cos(s), np.cos(phi) * np.sin(s), np.sin(phi)])
    x = x - earth_radius * up
    x /= np.linalg.norm(x)
    east = np.array([-np.sin(s), np.cos(s), 0.0])
    north = np.cross(up, east)
    return np.arcsin(x @ up) / RAD, np.arctan2(x @ east, x @ north) / RAD % 360.0


def julian_day(when):
    return np.datetime64(when).astype("datetime64[s]").astype(float) / 86400.0 + 2440587.5


def spencer(day):
    g = 2.0 * np.pi * day / 365.0
    dec = (0.006918 - 0.399912 * np.cos(g) + 0.070257 * np.sin(g) - 0.006758 * np.cos(2 * g) + 0.000907 * np.sin(2 * g)
           - 0.002697 * np.cos(3 * g) + 0.00148 * np.sin(3 * g))
    eot = 229.18 * (0.000075 + 0.001868 * np.cos(g) - 0.032077 * np.sin(g) - 0.014615 * np.cos(2 * g)
                    - 0.04089 * np.sin(2 * g))
    return dec / RAD, eot


def up_component(latitude, dec, hours):
    w = (hours - 12.0) * 15.0 * RAD
    return np.sin(latitude * RAD) * np.sin(dec) + np.cos(latitude * RAD) * np.cos(dec) * np.cos(w)


def daylight(latitude, day):
    _, dec, _, _ = coordinates(2458120.0 + day)
    hours = (np.arange(86400) + 0.5) / 3600.0
    return float((up_component(latitude, dec, hours) > 0.0).sum() / 3600.0)


def erbs(k):
    return np.where(k <= 0.22, 1 - 0.09 * k,
                    np.where(k > 0.8, 0.165, 0.9511 - 0.1604 * k + 4.388 * k**2 - 16.638 * k**3 + 12.336 * k**4))


def plane_year(latitude, tilt, azimuth, albedo, clearness=0.45, limit=11.5):
    """kWh/m2 in a year; beam summed over half hours as ratio of sums, no more than `limit`."""
    hours = (np.arange(1440) + 0.5) / 60.0
    w = (hours - 12.0) * 15.0 * RAD
    phi = latitude * RAD
    normal = np.array([np.sin(tilt * RAD) * np.sin(azimuth * RAD), np.sin(tilt * RAD) * np.cos(azimuth * RAD),
                       np.cos(tilt * RAD)])
    d = float(clearness * erbs(np.array(clearness)))
    b = clearness - d
    total = 0.0
    for day in range(365):
        _, dec, r, _ = coordinates(2458120.0 + day)
        up = up_component(latitude, dec, hours)
        east = -np.cos(dec) * np.sin(w)
        north = np.cos(phi) * np.sin(dec) - np.sin(phi) * np.cos(dec) * np.cos(w)
        on_plane = east * normal[0] + north * normal[1] + up * normal[2]
        lit = up > 0.0
        outside = (1.367 / r**2 / 60.0 * up * lit).reshape(48, 30).sum(axis=1)
        beam = (1.367 / r**2 / 60.0 * np.maximum(on_plane, 0.0) * lit).reshape(48, 30).sum(axis=1)
        beam = np.minimum(beam, limit * outside)
        sky, ground = (1 + normal[2]) / 2, albedo * (1 - normal[2]) / 2
        horizon = 1 + np.sqrt(b / clearness) * np.sin(tilt * RAD / 2) ** 3
        total += (b * beam + d * (b * beam + (1 - b) * sky * horizon * outside) + clearness * ground * outside).sum()
    return float(total)


def main():
    places = [(53.35, -6.26), (-33.87, 151.21), (69.65, 18.96), (1.35, 103.82), (-54.8, -68.3)]
    moments = ["2018-01-04T09:10", "2018-03-20T16:15", "2019-05-11T05:30", "2020-06-21T12:00", "2021-08-30T21:45",
               "2023-10-02T02:20", "2027-12-22T14:00"]
    positions = []
    for latitude, longitude in places:
        for moment in moments:
            elevation, azimuth = seen(latitude, longitude, julian_day(moment))
            positions.append({"latitude": latitude, "longitude": longitude, "julian_day": julian_day(moment),
                              "elevation": round(float(elevation), 6), "azimuth": round(float(azimuth), 6)})
    fourier = [{"day": day, "declination": round(float(spencer(day + 0.5)[0]), 5),
                "minutes": round(float(spencer(day + 0.5)[1]), 4)}
               for day in range(0, 365, 14)]
    light = [{"latitude": latitude, "day": day, "hours": daylight(latitude, day)}
             for latitude in (0.0, 40.4, 53.35, 69.65, -33.87, -75.0) for day in (0, 79, 171, 222, 354)]
    planes = [{"latitude": la, "tilt": ti, "azimuth": az, "albedo": al, "kwh": round(plane_year(la, ti, az, al), 5)}
              for la, ti, az, al in [(53.35, 35.0, 180.0, 0.2), (53.35, 35.0, 100.0, 0.2), (53.35, 90.0, 0.0, 0.0),
                                     (40.4, 45.0, 180.0, 0.2), (40.4, 20.0, 250.0, 0.3), (-33.87, 25.0, 0.0, 0.2),
                                     (-33.87, 60.0, 290.0, 0.2), (69.65, 60.0, 180.0, 0.6), (1.35, 15.0, 90.0, 0.2)]]
    out = {
        "about": "The sun's position and light on planes by other formulas; see sun.py",
        "made_by": f"tests/independent/sun.py, NumPy {np.__version__}",
        "positions": positions,
        "fourier": fourier,
        "daylight": light,
        "planes": planes,
    }
    (HERE / "sun.json").write_text(json.dumps(out, indent=1) + "\n")


if __name__ == "__main__":
    # The worked example of Meeus 25.b (1992 October 13, 0 h dynamical time): 13h13m30.763s, -7d47'01.74"
    # (the sun's own latitude, 0.6", is left out here).
    ra, dec, r, _ = coordinates(2448908.5 - 69.0 / 86400.0)
    assert abs(ra / RAD % 360.0 - 198.378178) < 3e-5 and abs(dec / RAD + 7.783817) < 3e-4 and abs(r - 0.99760775) < 1e-5
    main()
