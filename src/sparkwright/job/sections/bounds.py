"""Limits that several sections share, and why nothing lies outside them."""

from sparkwright.job.field_kind import Number

NO_SUCH_ENGINE = "outside this lies no engine that fires through a distributor"
NO_SUCH_CAP = "outside this lies no distributor cap"
NO_SUCH_SPEED = "outside this no such engine runs"
NO_SUCH_PRESSURE = "manifold pressure is absolute: about 101 at full load at sea level, less at altitude"
NO_SUCH_EVENT = "outside this lies no camshaft of a four-stroke engine"
NO_SUCH_FUEL = "outside this lies no fuel for spark-ignition engines"
NO_SUCH_MIXTURE = "lambda is 1 at the chemically right mixture, below 1 rich, above 1 weak"
NO_SUCH_COIL = "outside this lies no ignition coil for an engine"
NO_SUCH_BATTERY = "outside this lies no vehicle's electrical system"
NO_SUCH_AIR = "outside this no engine is run"
NO_SUCH_ADVANCE = "outside this no such engine is timed"

LAMBDA = Number(0.6, 1.6, NO_SUCH_MIXTURE)
CYLINDER = Number(1, 8, "a distributor here serves at most 8 cylinders", whole=True)
SPEED_SPAN_RPM, LOAD_SPAN_KPA = (100, 12000), (10, 400)
"""Speeds and absolute manifold pressures that the whole program takes."""

MANIFOLD_KPA = Number(*LOAD_SPAN_KPA, NO_SUCH_PRESSURE)
ENGINE_RPM = Number(*SPEED_SPAN_RPM, NO_SUCH_SPEED)
MOST_NODES = 40
"""Most speeds, and most loads, of a map."""

MOST_CELLS = MOST_NODES**2
