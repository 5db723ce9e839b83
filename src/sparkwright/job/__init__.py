"""What a shop writes down about one engine: one checked model, one TOML file, nothing computed."""

from sparkwright.job.model import Assumption, Job
from sparkwright.job.sections.battery import Battery
from sparkwright.job.sections.bounds import LOAD_SPAN_KPA, MOST_NODES, SPEED_SPAN_RPM
from sparkwright.job.sections.cam import Cam
from sparkwright.job.sections.coil import Coil
from sparkwright.job.sections.controller import Between, Controller, LoadTerm
from sparkwright.job.sections.customer import Customer
from sparkwright.job.sections.distributor import Distributor
from sparkwright.job.sections.driver import Driver
from sparkwright.job.sections.engine import Engine, Use
from sparkwright.job.sections.fuel import Fuel
from sparkwright.job.sections.hand import HandCell
from sparkwright.job.sections.induction import Induction
from sparkwright.job.sections.light import TimingLight
from sparkwright.job.sections.limits import Limits
from sparkwright.job.sections.old_curve import OldCurve
from sparkwright.job.sections.pegs import Peg
from sparkwright.job.sections.pickup import Pickup
from sparkwright.job.sections.plugs import Plugs
from sparkwright.job.sections.section import Section
from sparkwright.job.sections.shop import Shop
from sparkwright.job.sections.site import Site
from sparkwright.job.sections.vehicle import Vehicle
from sparkwright.job.starter import job_schema, key_tables, starter_text
from sparkwright.job.text import JobText

__all__ = [
    "LOAD_SPAN_KPA",
    "MOST_NODES",
    "SPEED_SPAN_RPM",
    "Assumption",
    "Battery",
    "Between",
    "Cam",
    "Coil",
    "Controller",
    "Customer",
    "Distributor",
    "Driver",
    "Engine",
    "Fuel",
    "HandCell",
    "Induction",
    "Job",
    "JobText",
    "Limits",
    "LoadTerm",
    "OldCurve",
    "Peg",
    "Pickup",
    "Plugs",
    "Section",
    "Shop",
    "Site",
    "TimingLight",
    "Use",
    "Vehicle",
    "job_schema",
    "key_tables",
    "starter_text",
]
