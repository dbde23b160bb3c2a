"""The wet side, numbers only: tablet, exposure, coating, solutions, sequences.

Every function is pure: numbers in, numbers out, units in the names. Names load on first
use, so that a command pays only for what it needs.
"""

from typing import TYPE_CHECKING

from negcurve.late import late_names

# Loaded late so that `negcurve bath` loads no least squares.
if TYPE_CHECKING:
    from negcurve.darkroom.atoms import molar_mass as molar_mass
    from negcurve.darkroom.capacity import clearing_capacity as clearing_capacity
    from negcurve.darkroom.capacity import paper_chalk_mmol as paper_chalk_mmol
    from negcurve.darkroom.cautions import cautions_for as cautions_for
    from negcurve.darkroom.characteristic import (
        CharacteristicCurve as CharacteristicCurve,
    )
    from negcurve.darkroom.coating import agent_per_metal as agent_per_metal
    from negcurve.darkroom.coating import coated_area_cm2 as coated_area_cm2
    from negcurve.darkroom.coating import coating_volume_ml as coating_volume_ml
    from negcurve.darkroom.coating import pours as pours
    from negcurve.darkroom.coating import with_agent as with_agent
    from negcurve.darkroom.costing import cost as cost
    from negcurve.darkroom.curve_fitting import fit_curve as fit_curve
    from negcurve.darkroom.estimate import Estimate as Estimate
    from negcurve.darkroom.exposure import distance_factor as distance_factor
    from negcurve.darkroom.exposure import exposure_change as exposure_change
    from negcurve.darkroom.exposure import factor_from_density as factor_from_density
    from negcurve.darkroom.exposure import factor_from_stops as factor_from_stops
    from negcurve.darkroom.exposure import integrator_time as integrator_time
    from negcurve.darkroom.exposure import output_factor as output_factor
    from negcurve.darkroom.exposure import plan_strip as plan_strip
    from negcurve.darkroom.exposure import stops_from_factor as stops_from_factor
    from negcurve.darkroom.first_print import black_time as black_time
    from negcurve.darkroom.first_print import ends_seen as ends_seen
    from negcurve.darkroom.first_print import time_for_black as time_for_black
    from negcurve.darkroom.iso6846 import PaperRange as PaperRange
    from negcurve.darkroom.iso6846 import eye_read_scale as eye_read_scale
    from negcurve.darkroom.iso6846 import iso_range_class as iso_range_class
    from negcurve.darkroom.iso6846 import paper_range as paper_range
    from negcurve.darkroom.iso6846 import scale_from_readings as scale_from_readings
    from negcurve.darkroom.lamp_bank import bank_distance_factor as bank_distance_factor
    from negcurve.darkroom.lamp_bank import dead_tube_loss as dead_tube_loss
    from negcurve.darkroom.lamp_bank import edge_light as edge_light
    from negcurve.darkroom.lamp_bank import ripple as ripple
    from negcurve.darkroom.matching import density_between as density_between
    from negcurve.darkroom.matching import match_patches as match_patches
    from negcurve.darkroom.matching import second_sheet as second_sheet
    from negcurve.darkroom.mixtures import check_mixture as check_mixture
    from negcurve.darkroom.negative_range import fit_agent_series as fit_agent_series
    from negcurve.darkroom.negative_range import match_range as match_range
    from negcurve.darkroom.processes import process as process
    from negcurve.darkroom.ratios import mixture_ratios as mixture_ratios
    from negcurve.darkroom.ratios import oxalate_from_acid as oxalate_from_acid
    from negcurve.darkroom.ratios import salt_for_palladium as salt_for_palladium
    from negcurve.darkroom.recipes import bottles as bottles
    from negcurve.darkroom.sequences import sequence as sequence
    from negcurve.darkroom.shape_fit import Point as Point
    from negcurve.darkroom.solutions import dilute as dilute
    from negcurve.darkroom.solutions import mol_per_l as mol_per_l
    from negcurve.darkroom.solutions import portion as portion
    from negcurve.darkroom.solutions import weigh as weigh
    from negcurve.darkroom.substances import substance as substance
    from negcurve.darkroom.tablet import Strip as Strip
    from negcurve.darkroom.tablet import Tablet as Tablet
    from negcurve.darkroom.tablet import nominal_tablet as nominal_tablet

_PLACES = {
    "CharacteristicCurve": "negcurve.darkroom.characteristic",
    "Estimate": "negcurve.darkroom.estimate",
    "PaperRange": "negcurve.darkroom.iso6846",
    "Point": "negcurve.darkroom.shape_fit",
    "Strip": "negcurve.darkroom.tablet",
    "Tablet": "negcurve.darkroom.tablet",
    "agent_per_metal": "negcurve.darkroom.coating",
    "bank_distance_factor": "negcurve.darkroom.lamp_bank",
    "black_time": "negcurve.darkroom.first_print",
    "bottles": "negcurve.darkroom.recipes",
    "cautions_for": "negcurve.darkroom.cautions",
    "check_mixture": "negcurve.darkroom.mixtures",
    "clearing_capacity": "negcurve.darkroom.capacity",
    "coated_area_cm2": "negcurve.darkroom.coating",
    "coating_volume_ml": "negcurve.darkroom.coating",
    "cost": "negcurve.darkroom.costing",
    "dead_tube_loss": "negcurve.darkroom.lamp_bank",
    "density_between": "negcurve.darkroom.matching",
    "dilute": "negcurve.darkroom.solutions",
    "distance_factor": "negcurve.darkroom.exposure",
    "edge_light": "negcurve.darkroom.lamp_bank",
    "ends_seen": "negcurve.darkroom.first_print",
    "exposure_change": "negcurve.darkroom.exposure",
    "eye_read_scale": "negcurve.darkroom.iso6846",
    "factor_from_density": "negcurve.darkroom.exposure",
    "factor_from_stops": "negcurve.darkroom.exposure",
    "fit_agent_series": "negcurve.darkroom.negative_range",
    "fit_curve": "negcurve.darkroom.curve_fitting",
    "integrator_time": "negcurve.darkroom.exposure",
    "iso_range_class": "negcurve.darkroom.iso6846",
    "match_patches": "negcurve.darkroom.matching",
    "match_range": "negcurve.darkroom.negative_range",
    "mixture_ratios": "negcurve.darkroom.ratios",
    "mol_per_l": "negcurve.darkroom.solutions",
    "molar_mass": "negcurve.darkroom.atoms",
    "nominal_tablet": "negcurve.darkroom.tablet",
    "output_factor": "negcurve.darkroom.exposure",
    "oxalate_from_acid": "negcurve.darkroom.ratios",
    "paper_chalk_mmol": "negcurve.darkroom.capacity",
    "paper_range": "negcurve.darkroom.iso6846",
    "plan_strip": "negcurve.darkroom.exposure",
    "portion": "negcurve.darkroom.solutions",
    "pours": "negcurve.darkroom.coating",
    "process": "negcurve.darkroom.processes",
    "ripple": "negcurve.darkroom.lamp_bank",
    "salt_for_palladium": "negcurve.darkroom.ratios",
    "scale_from_readings": "negcurve.darkroom.iso6846",
    "second_sheet": "negcurve.darkroom.matching",
    "sequence": "negcurve.darkroom.sequences",
    "stops_from_factor": "negcurve.darkroom.exposure",
    "substance": "negcurve.darkroom.substances",
    "time_for_black": "negcurve.darkroom.first_print",
    "weigh": "negcurve.darkroom.solutions",
    "with_agent": "negcurve.darkroom.coating",
}

__all__ = [
    "CharacteristicCurve",
    "Estimate",
    "PaperRange",
    "Point",
    "Strip",
    "Tablet",
    "agent_per_metal",
    "bank_distance_factor",
    "black_time",
    "bottles",
    "cautions_for",
    "check_mixture",
    "clearing_capacity",
    "coated_area_cm2",
    "coating_volume_ml",
    "cost",
    "dead_tube_loss",
    "density_between",
    "dilute",
    "distance_factor",
    "edge_light",
    "ends_seen",
    "exposure_change",
    "eye_read_scale",
    "factor_from_density",
    "factor_from_stops",
    "fit_agent_series",
    "fit_curve",
    "integrator_time",
    "iso_range_class",
    "match_patches",
    "match_range",
    "mixture_ratios",
    "mol_per_l",
    "molar_mass",
    "nominal_tablet",
    "output_factor",
    "oxalate_from_acid",
    "paper_chalk_mmol",
    "paper_range",
    "plan_strip",
    "portion",
    "pours",
    "process",
    "ripple",
    "salt_for_palladium",
    "scale_from_readings",
    "second_sheet",
    "sequence",
    "stops_from_factor",
    "substance",
    "time_for_black",
    "weigh",
    "with_agent",
]

__getattr__, __dir__ = late_names(__name__, _PLACES, __all__)
