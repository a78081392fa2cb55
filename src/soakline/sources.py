"""Where each outside fact comes from, and how far it was checked: code, tests, pages and papers cite it by key."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import MappingProxyType
from typing import Literal

Confidence = Literal["read", "standard", "arithmetic", "practice", "memory"]


@dataclass(frozen=True, slots=True)
class Source:
    """One fact: its key, what it says with its units, where it stands, and how far that was checked.

    ``confidence`` is *read* in the source (mostly abstract or table), read in a *standard*'s own files, *arithmetic*
    anyone can redo, common *practice* without a source, or from *memory*, not verified. ``value`` is the number, as
    written, where a default is taken from the fact.
    """

    key: str
    says: str
    citation: str
    confidence: Confidence
    value: str = ""

    @property
    def is_verified(self) -> bool:
        """Say whether the fact was read or can be redone; one that is not is a site setting, shown with its origin."""
        return self.confidence not in {"practice", "memory"}


def source(key: str) -> Source:
    """Return the source kept under ``key``; raises LookupError that names the nearest key when there is none.

    >>> source("gate.fda").confidence
    'read'
    >>> source("gate.fdaa")
    Traceback (most recent call last):
        ...
    LookupError: "gate.fdaa" is not a source key; the nearest is "gate.fda"
    """
    found = SOURCES.get(key)
    if found is None:
        nearest = get_close_matches(key, SOURCES, n=1, cutoff=0.0)[0]
        msg = f'"{key}" is not a source key; the nearest is "{nearest}"'
        raise LookupError(msg)
    return found


_NO_SOURCE = "common practice, no source"
_MEMORY = "from memory, not verified"
_OWN = "own proposal, no source"
_LABEL_INJECTION = (
    "US label text of lidocaine hydrochloride injection, Dosage and Administration, "
    "section Maximum Recommended Dosages, adults"
)
_LABEL_TOPICAL = (
    "US label text of lidocaine hydrochloride topical solution 4 %, Dosage and Administration, "
    "section Maximum Recommended Dosages, normal healthy adults"
)
_REDO = "worked by hand; redone in the tests"

_THERAPY = (
    Source(
        "therapy.panel_2015",
        "dwell 10–20 min, then 2–4 h of negative pressure at −125 mmHg; longer for large wounds",
        '"NPWTi: review of evidence and recommendations", Wounds 2015, PMID 26966814, abstract',
        "read",
    ),
    Source(
        "therapy.panel_2020",
        "0.9 % saline first; hypochlorous acid, dilute hypochlorite, polyhexanide, acetic acid as alternatives; "
        "dwell 10 min; 2–3 or 2–4 h at −125 mmHg",
        "Kim et al., Int Wound J 2020;17:174–186: abstract read, numbers from memory",
        "memory",
    ),
    Source(
        "therapy.series",
        "dwell 2–20 min; negative pressure 0.5–4 h, mostly 2–3.5 h; −125 mmHg, some −100 to −150; dressing "
        "change every "
        "2–3 days; 5–44 days in all",
        "the case series under cases.*",
        "read",
    ),
    Source(
        "therapy.fill_volume",
        "enough to wet the foam visibly at the bedside, checked again at each change; no numeric rule was found",
        _NO_SOURCE,
        "practice",
    ),
    Source(
        "therapy.trial",
        "lower bacterial counts; no difference in the number of debridements",
        "Kim et al., Int Wound J 2020;17:1194–1208, randomised",
        "read",
    ),
    Source(
        "therapy.bench",
        "periodic filling stained an agar wound evenly, undermining and tunnels included; slow continuous "
        "flow did not; "
        "authors employed by a manufacturer",
        "Rycerz et al., Int Wound J 2013;10:214–220, abstract",
        "read",
    ),
    Source(
        "therapy.stop",
        "stop for a clean granulating bed ready to close or to step down; no progress; bleeding; pain; seal failure",
        _NO_SOURCE,
        "practice",
    ),
    Source("therapy.complications", "complications of the therapy", "Cureus 2018;10(9):e3377", "read"),
    Source(
        "site.trouble",
        "what to look at when a unit alarms or a side does not draw; the equipment's instructions go first",
        _NO_SOURCE,
        "practice",
    ),
    Source(
        "therapy.explore_first",
        "every tunnel and undermined area is explored before instillation; not into the chest or belly "
        "cavity without a "
        "specific plan",
        f"reviews, {_MEMORY}",
        "memory",
    ),
)

_GATE = (
    Source(
        "gate.fda",
        "contraindications: necrotic tissue with eschar present; untreated osteomyelitis; non-enteric and unexplored "
        "fistula; malignancy in the wound; exposed vasculature; exposed nerves; exposed anastomotic site; "
        "exposed organs",
        "US FDA safety communications of 13 Nov 2009 and 24 Feb 2011, table 1",
        "read",
    ),
    Source(
        "gate.fda_risk_factors",
        "to consider: high risk of bleeding; anticoagulants or platelet inhibitors; friable or infected blood vessels; "
        "vascular anastomosis; infected wound; osteomyelitis; exposed organs, vessels, nerves, tendon, ligament; sharp "
        "edges (bone fragments); spinal cord injury; enteric fistula; need for MRI, hyperbaric chamber or "
        "defibrillation; patient size and weight; near the vagus nerve; circumferential dressing; mode "
        "(intermittent or "
        "continuous)",
        "US FDA safety communications of 13 Nov 2009 and 24 Feb 2011, table 2",
        "read",
    ),
    Source(
        "gate.fda_counts",
        "to February 2011: 12 deaths, 174 injuries since 2007; in the 2009 notice retained or adherent foam "
        "in 32 of 77 "
        "injury reports, bleeding in all 6 deaths",
        "US FDA safety communications of 13 Nov 2009 and 24 Feb 2011",
        "read",
    ),
    Source("gate.opens_into_cavity", "the wound opens into chest, belly or a joint", _NO_SOURCE, "practice"),
    Source(
        "gate.first_call",
        "asked at the first call: unstable, bleeding, bowel content, an unexplored track",
        _NO_SOURCE,
        "practice",
    ),
    Source("gate.site_asks", "consent and photographs, as the site asks for them", _NO_SOURCE, "practice"),
    Source("gate.watch", "what to watch beside a caution of which no cited fact speaks", _NO_SOURCE, "practice"),
    Source(
        "gate.asked_beside",
        "asked beside the stops: is the kept skin viable, is the dead tissue removed, is the source "
        "controlled; allergies",
        _NO_SOURCE,
        "practice",
    ),
)

_FOAM = (
    Source(
        "foam.pore_size",
        "reticulated polyurethane: pores 0.4–0.6 mm",
        f"supplier page, agrees with memory; {_MEMORY}",
        "memory",
    ),
    Source("foam.porosity", "porosity 0.97 (0.95–0.98)", _MEMORY, "memory", value="0.97"),
    Source(
        "foam.permeability",
        "uncompressed 1e-8 m² (1e-9 to 3e-8); in a wound, partly squeezed, 3e-9 (1e-9 to 1e-8): the default; "
        "crushed or "
        "clogged 1e-11 to 1e-10",
        _MEMORY,
        "memory",
        value="1e-9, 3e-9, 1e-8",
    ),
    Source(
        "foam.permeability_cushion",
        "by air flow on five open polyurethane cushion foams: 1.4–2.5e-9 m² with cell membranes, 4.3–5.1e-9 after "
        "compression had broken them",
        "university thesis on polyurethane foams, table 3.3 (title not seen)",
        "read",
    ),
    Source(
        "foam.permeability_aperture",
        "permeability is a power law of the aperture between cells",
        "Langlois et al., Phys Rev E 2018 (arXiv 1712.05860)",
        "read",
    ),
    Source(
        "foam.wicking",
        "wicking into dry foam follows Washburn's law in form, about ten times slower than it predicts",
        "Pitois, Kaddami, Langlois, J Colloid Interface Sci 2020;571:166–173, abstract",
        "read",
    ),
    Source(
        "foam.capillary_height",
        "height liquid is held against gravity: 0.3–5 cm by wettability, default 1 (0.3–3); near 0 in new "
        "hydrophobic foam",
        _MEMORY,
        "memory",
        value="0.3, 1, 3",
    ),
    Source("foam.capillary_bound", "bound of the capillary height: 2γcosθ/(ρgr)", "Jurin's law", "arithmetic"),
    Source(
        "foam.share",
        "share of the void that takes liquid at a fill: 0.8 (0.5–1)",
        _OWN,
        "practice",
        value="0.5, 0.8, 1",
    ),
    Source("foam.squeeze", "at −125 mmHg inside a wound foam keeps 20–50 % of its free volume", _MEMORY, "memory"),
    Source(
        "foam.swelling",
        "polyurethane hardly swells and its pores connect well; polyvinyl alcohol swells 40 %, its pores "
        "connect poorly",
        "Milleret et al., Materials 2009;2:292–306",
        "read",
    ),
    Source("foam.pressure_loss", "ΔP/L = (η/K)V + (ρ/B)V²", "Mills, J Mater Sci 2005;40:5845–51", "read"),
    Source(
        "foam.permeability_strain",
        "permeability against strain: closed form independent of cell size",
        "Dawson, Germaine, Gibson, Int J Solids Struct 2007;44:5133–45, abstract",
        "read",
    ),
    Source(
        "foam.van_genuchten",
        "saturation by head, (1 + (α h)^n)^(−m) with m = 1 − 1/n, and conductivity from it; α is one over the "
        "capillary height, n = 4 taken for open foam",
        "van Genuchten, Soil Sci Soc Am J 1980;44:892–898; Mualem, Water Resour Res 1976;12:513–522: memory",
        "memory",
    ),
    Source(
        "fluids.water",
        "water at 37 °C: density 0.993 g/cm³, viscosity 0.7 mPa·s",
        "textbook values, from memory",
        "memory",
    ),
    Source(
        "doubt.sudret_2008",
        "first-order sensitivity indices from a fit by orthogonal polynomials",
        "Sudret, Reliab Eng Syst Saf 2008;93:964–979: from memory, not read",
        "memory",
    ),
    Source(
        "settling.validity",
        "open foam (k from 3e-9 m², capillary height to 1 cm): the settled model puts 2–13 % of the liquid wrong; "
        "clogged foam (k to 1e-10 m²): 32–40 % and more",
        "own runs of a spread model beside a settled one",
        "practice",
    ),
    Source("foam.water_column", "10 cm of water is 7.36 mmHg", _REDO, "arithmetic", value="7.36"),
)

_MEASURING = (
    Source(
        "measuring.clock",
        "12 = head, 6 = feet on the trunk; proximal on a limb; heel on the foot",
        "Morgan, Wound Care Advisor 2012",
        "read",
    ),
    Source(
        "measuring.length_width",
        "length along 12–6, width along 3–9, in cm; length may be the shorter",
        "Morgan, Wound Care Advisor 2012",
        "read",
    ),
    Source(
        "measuring.undermining",
        'undermining is probed at each hour from the wound edge; ranges are written "from–to"',
        "Morgan, Wound Care Advisor 2012",
        "read",
    ),
    Source(
        "measuring.undermining_or_tunnel",
        "undermining: wide loss under an intact edge; tunnel: narrow path in any direction, dead space",
        "HL7 skin-and-wound model",
        "standard",
    ),
    Source(
        "measuring.handedness",
        "3 o'clock is the patient's left on the front and the patient's right on the back",
        "geometry",
        "arithmetic",
    ),
    Source(
        "measuring.rogers_2010",
        "length × width against traced area: +41 % (10 wounds); an ellipse explains +27 % (4/π)",
        "Rogers et al., J Diabetes Sci Technol 2010;4:799–802",
        "read",
    ),
    Source(
        "measuring.rater_error",
        "area 3.2 % between raters, depth 13.5 % (imaging); 3D device intra/inter ICC: depth .36/.65, volume .89/.70, "
        "area 1.00/1.00",
        "Hammond & Nixon, J WOCN; Wounds (45 wounds, 2 raters)",
        "read",
    ),
    Source(
        "measuring.volume_methods",
        "no method of measuring wound volume is accurate enough for routine use",
        "Jørgensen et al., Int Wound J 2016;13:540–53",
        "read",
    ),
    Source(
        "measuring.error_model",
        "to start from: length, width ±0.5 cm; depth ±15 %; undermining ±0.5–1 cm and ±1 h; pocket height as given "
        "low–likely–high",
        _OWN,
        "practice",
        value="0.5 cm, 15 %, 0.5 cm, 1 h",
    ),
    Source(
        "sampling.sobol",
        "Sobol points: primitive polynomial and first direction numbers of each axis; scrambled by a random matrix and "
        "a random shift",
        "table and generator of scipy.stats.qmc, reference library; Joe & Kuo, SIAM J Sci Comput 2008;30:2635–54 and "
        "Matoušek, J Complexity 1998;14:527–56: memory",
        "memory",
    ),
    Source(
        "measuring.height_unknown",
        "where nobody measured the pocket height: anything from 0.5 to 2.0 cm, shown as extremes",
        _OWN,
        "practice",
        value="0.5, 2",
    ),
    Source("measuring.ellipse", "area of an ellipse: π/4 · length · width", _REDO, "arithmetic"),
    Source(
        "measuring.kundin",
        "area 0.785 · length · width",
        "Kundin 1989, read through Jørgensen et al., Int Wound J 2016;13:540–53",
        "read",
        value="0.785",
    ),
    Source(
        "measuring.kundin_volume",
        "volume 0.327 · length · width · depth",
        f"Kundin 1989; {_MEMORY}",
        "memory",
        value="0.327",
    ),
    Source(
        "measuring.gilman",
        "advance of the edge d = (A₁ − A₂)/((P₁ + P₂)/2), rate d/T",
        f"Gilman, Wounds 1990;2:95–101; {_MEMORY}",
        "memory",
    ),
    Source(
        "measuring.exponential",
        "k = ln(A₀/A_t)/t; 72 % of 338 venous ulcers fitted",
        "BMC Dermatol 2009;9:2",
        "read",
    ),
    Source(
        "measuring.early_prediction",
        "prediction before week 5 is unreliable",
        "Cukjati et al., Med Biol Eng Comput 2001;39:263–71",
        "read",
    ),
    Source(
        "measuring.four_week_thresholds",
        "area reduction thresholds at 4 weeks (50–53 %): diabetic foot only; never a verdict for a pocket",
        "Sheehan, Diabetes Care 2003;26:1879–82; Coerper, J Diabetes Complications 2009;23:49–53",
        "read",
    ),
)

_LAYOUT = (
    Source(
        "layout.lain_on",
        "skin that faces within 25° of straight down carries the body: no port lies under it; lying on the side at 30° "
        "is held to free the middle of the back",
        _OWN,
        "practice",
        value="25",
    ),
    Source(
        "layout.knee",
        "where a curve stops growing: the point farthest above the straight line from empty to full; none below a "
        "tenth",
        "Satopää, Albrecht, Irwin, Raghavan, Int Conf Distrib Comput Syst Workshops 2011: from memory, not read; the "
        "tenth is our own",
        "memory",
    ),
    Source(
        "layout.turning_share",
        "a set of postures soaks what can be soaked: 95 % of what all allowed postures soak, in 90 % of plausible "
        "wounds",
        _OWN,
        "practice",
    ),
    Source(
        "layout.beside",
        "a suction port lies beside the instillation port up to 3 cm; a flow that leaves out half of the bed is short",
        _OWN,
        "practice",
    ),
    Source(
        "layout.set_cover",
        "the smallest set of postures: all sets at once, and integer program, beside sets counted out one by one",
        "HiGHS through scipy.optimize.milp, reference library; counting out",
        "arithmetic",
    ),
)

_ARITHMETIC = (
    Source(
        "arithmetic.ellipsoid",
        "surface of an ellipsoid: 4π · R_G(a²b², a²c², b²c²)",
        "Carlson's symmetric form of the elliptic integrals; closed form",
        "arithmetic",
    ),
)

_ANAESTHETIC = (
    Source(
        "anaesthetic.lidocaine_plain",
        "ceiling for infiltration: the lower of 4.5 mg/kg and 300 mg",
        _LABEL_INJECTION,
        "read",
        value="4.5 mg/kg, 300 mg",
    ),
    Source(
        "anaesthetic.lidocaine_epinephrine",
        "ceiling with epinephrine: the lower of 7 mg/kg and 500 mg",
        _LABEL_INJECTION,
        "read",
        value="7 mg/kg, 500 mg",
    ),
    Source(
        "anaesthetic.lidocaine_topical",
        "4 % topical solution: the ceiling of plain lidocaine; reduce for elderly or debilitated; add up "
        "every lidocaine "
        "source",
        _LABEL_TOPICAL,
        "read",
    ),
    Source(
        "anaesthetic.franczyk_2009",
        "before a dressing change, n = 70: 0.2 % into the foam, 30 min wait: pain 4.3 against 6.3; none left "
        "30 min later",
        "Franczyk et al., Plast Reconstr Surg 2009;124:854–61, randomised",
        "read",
    ),
    Source(
        "anaesthetic.crossover",
        "1 % before a dressing change, 11 and 72 patients; the wait is not in the abstracts: the user sets it",
        "J Orthop Trauma 2013;27:107–12; Med Forum 2018;29(9):72–5, crossover",
        "read",
    ),
    Source("anaesthetic.strength", "1 % = 10 mg/mL", _REDO, "arithmetic", value="10"),
    Source("anaesthetic.absorbed", "the whole instilled dose counts as absorbed", _OWN, "practice"),
    Source(
        "anaesthetic.no_number",
        "no number for: child, pregnancy, conduction disease, liver or heart failure, another local anaesthetic of "
        "unknown dose, weight without unit or date",
        _OWN,
        "practice",
    ),
    Source(
        "anaesthetic.window",
        "every dose of the last 24 h is added up, whatever its route",
        _OWN,
        "practice",
        value="24",
    ),
    Source(
        "anaesthetic.two_weights",
        "two entries of one weight may differ by 5 %; beyond it there is no number",
        _OWN,
        "practice",
        value="0.05",
    ),
    Source(
        "anaesthetic.pounds_by_height",
        "a weight is asked about where it gives 40 kg/m² or more, and the same figure in pounds 15 or more",
        _OWN,
        "practice",
        value="40, 15",
    ),
    Source(
        "anaesthetic.first_signs",
        "numb tongue or lips, metallic taste, ringing ears, light head; drowsiness can be the first",
        _NO_SOURCE,
        "practice",
    ),
)

_FLUIDS = (
    Source(
        "fluids.exudate",
        "exudate of open abdomen / soft tissue: median 1031 / 245 mL a day; protein 2.9 g/dL",
        "Hourigan et al., Nutr Clin Pract 2010;25:510–6",
        "read",
    ),
    Source("fluids.canister_sizes", "canisters of 300, 500 and 1000 mL", _NO_SOURCE, "practice"),
    Source("fluids.canister_share", "a canister is changed before it is full: at 90 %", _NO_SOURCE, "practice", "0.9"),
    Source("fluids.reading_error", "a canister mark is read to ±25–50 mL", _MEMORY, "memory", value="25, 50"),
    Source(
        "fluids.off_time",
        "off no more than 2 h in 24 h in many policies; programmed soak does not count",
        _NO_SOURCE,
        "practice",
        value="2 h in 24 h",
    ),
    Source(
        "fluids.bleeding_limit",
        "limits of bleeding or output in mL/h: none found; the unit's policy sets them",
        "none found",
        "practice",
    ),
    Source(
        "fluids.enteric_output",
        "enteric output classes: under 200, 200–500, over 500 mL a day",
        "Bobkiewicz et al., Int Wound J 2017;14:255–264, abstract",
        "read",
    ),
    Source(
        "fluids.solution_conflicts",
        "chlorhexidine with hypochlorite precipitates at once; hypochlorite with hydrogen peroxide gives gas",
        "Campbell et al., J Arthroplasty 2018;33:844–846, abstract",
        "read",
    ),
    Source(
        "fluids.not_for_closed_pockets",
        "hydrogen peroxide (gas embolism) and octenidine (tissue necrosis) not for closed or undrained "
        "pockets; pharmacy "
        "decides",
        _MEMORY,
        "memory",
    ),
    Source(
        "fluids.fills_below_void",
        "published fills lie far below the void (50 mL in a wound of some litres): wetting foam, not filling "
        "a cavity, is "
        "usual",
        "Vola & Vander Noot, Wounds 2020;32:E92–5",
        "read",
    ),
)

_CODES = (
    Source(
        "codes.loinc",
        "wound panel 39135-9; size panel 72287-6; length 39126-8, width 39125-0, depth 39127-6 (cm); area "
        "89260-4 (cm²); "
        "undermining length 72293-4, its clock position 72294-2; tunnel length 72296-7, its clock position 72297-5; "
        "drainage from device 72291-8 (mL); exudate amount 39116-9; wound base appearance 72371-8 with share 72370-0",
        "LOINC, in the HL7 skin-and-wound guide's sources, FHIR 4.0.1",
        "standard",
    ),
    Source(
        "codes.loinc_volume",
        "volume 94083-3 (cm³): one national profile only",
        "LOINC, in one national profile",
        "standard",
        value="94083-3",
    ),
    Source(
        "codes.snomed_clock",
        "clock positions 1–12: 260318004, 260328008, 260330005, 260333007, 260335000, 260337008, 260339006, 260341007, "
        "260343005, 260322009, 260324005, 260326007",
        "SNOMED CT, in the HL7 skin-and-wound guide's sources, FHIR 4.0.1",
        "standard",
    ),
    Source(
        "codes.snomed_undermining",
        "undermining 449752001",
        "SNOMED CT, in the HL7 skin-and-wound guide's sources, FHIR 4.0.1",
        "standard",
        value="449752001",
    ),
    Source(
        "codes.no_procedure_code",
        "no code for the therapy procedure could be verified: it is sent as text for the site to map",
        "none found",
        "practice",
    ),
    Source(
        "codes.ucum",
        "cm cm2 cm3 mL L mL/h mm[Hg] min h d % mg mg/kg mg/mL deg Cel kg; no clock unit exists",
        "UCUM",
        "standard",
    ),
    Source(
        "codes.fhir_r5",
        "DeviceUseStatement of R4 and R4B becomes DeviceUsage in R5; Procedure.performed[x] becomes occurrence[x]",
        "HL7 FHIR R4, R4B, R5",
        "standard",
    ),
)

_COUNTING = (
    Source("counting.retained", "retained pieces cause sepsis and reoperation", "BMJ 2009;338:b2269", "read"),
    Source(
        "counting.record",
        "foam shows on no plain film; missing records of number, type and place are a named cause of retained pieces",
        "Anagnostakos et al., Adv Wound Care 2020, doi 10.1089/wound.2019.1088",
        "read",
    ),
    Source("counting.tears_in_tunnels", "pieces tear off in tunnels", "Wounds 2014;26(7):E53–4", "read"),
    Source(
        "counting.rule",
        "pieces are named, placed, and come out whole, contact layers and gauze included; foam is not pushed "
        "blind into a "
        "tunnel; a torn piece is unresolved until its parts match; unresolved means stop, explore, escalate, no new "
        "dressing",
        _NO_SOURCE,
        "practice",
    ),
)

_TURNING = (
    Source("site.shifts", "three shifts of eight hours", _NO_SOURCE, "practice", value="07:00, 15:00, 23:00"),
    Source(
        "turning.nice",
        "turned at least every 6 h at risk, every 4 h at high risk",
        "NICE CG179",
        "read",
        value="6 h, 4 h",
    ),
    Source(
        "turning.lateral",
        "30° lateral rather than steeper, low certainty",
        "international guideline on pressure ulcers",
        "read",
        value="30",
    ),
    Source("turning.head_of_bed", "head of bed at or below 30°", _MEMORY, "memory", value="30"),
    Source(
        "turning.ventilated",
        "ventilated or tube-fed patients often need the head of the bed at 30–45°: the conflict is shown and "
        "asked about",
        _MEMORY,
        "memory",
        value="30, 45",
    ),
    Source("turning.two_hourly", "turned every 2 h", _NO_SOURCE, "practice", value="2 h"),
    Source("turning.relief_first", "pressure relief always wins over soaking", _OWN, "practice"),
)

_CASES = (
    Source(
        "cases.vola_2020",
        "abdominal wound 27 × 22 × 7 cm, 85 % necrotic fat; after 6 weeks 25 × 22 × 4.5 cm; 50 mL saline, 10 "
        "min, 3.5 h, "
        "−125 mmHg, two changes a week",
        "Vola & Vander Noot, Wounds 2020;32:E92–5",
        "read",
    ),
    Source(
        "cases.nineteen_complex",
        "19 complex wounds: 5–10 min, 2–3.5 h, −125 mmHg, change every 2–3 d, 9.5 ± 4.1 d",
        "Wounds 2020;32:279–82",
        "read",
    ),
    Source(
        "cases.mcelroy_2019",
        "14 wounds: 2–10 min, 0.5–4 h",
        "McElroy, Int Wound J 2019;16:781–7",
        "read",
    ),
    Source(
        "cases.napolitano_2023",
        "4 leg wounds: 8–10 min, 3–3.5 h, 6–7 d",
        "Napolitano, Wound Manag Prev 2023;69(2):32–8",
        "read",
    ),
    Source(
        "cases.opening_did_better",
        "162 undermined pressure ulcers: opening the pocket did better than keeping the skin",
        "Wound Repair Regen 2013;21:512–9",
        "read",
    ),
    Source(
        "cases.skin_kept",
        "necrotising infections: grafts in 20 % instead of 90 % of wounds, equal mortality, before/after design",
        "PubMed 31800370",
        "read",
    ),
    Source(
        "cases.nobody_measured_reach",
        "no paper measures how far liquid reaches under spared skin: layout claims rest on geometry and "
        "bench results alone",
        "none found",
        "practice",
    ),
)

_FLOW = (
    Source(
        "settling.barnes_2021",
        "fill, spill, merge: a tree of basins answers where water comes to rest on a floor",
        "Barnes, Callaghan & Wickert, Earth Surf Dynam 2021;9:105–121, abstract",
        "read",
    ),
    Source(
        "settling.closed_forms",
        "volume below a level: sphere cap, horizontal cylinder, tilted box, ellipsoid",
        "solid geometry",
        "arithmetic",
    ),
    Source(
        "settling.mesh",
        "volume and section area of a closed triangle mesh",
        "trimesh, reference library",
        "standard",
    ),
    Source(
        "settling.components",
        "connected parts of a cavity below a level",
        "scipy.ndimage.label, reference library",
        "standard",
    ),
    Source(
        "settling.tilted_slab",
        "mean wet length m = V/(width · height); floor m + h/(2 tan α), roof m − h/(2 tan α) while both lie "
        "in the slab; "
        "roof below 0: floor √(2(V/width)/tan α)",
        _REDO,
        "arithmetic",
    ),
    Source(
        "settling.tilted_disc",
        "floor and roof of a tilted closed disc of radius 8 cm and height 1 cm under 60, 100 and 150 mL",
        _REDO,
        "arithmetic",
    ),
    Source(
        "spread.huppert_woods_1995",
        "radial gravity current in a porous layer on a level floor: r = 2(KVt/πφ²)^¼, h = 2V/(πφr²) · (1 − "
        "r²/r²_front)",
        "Huppert & Woods 1995; closed form, holds on substitution",
        "arithmetic",
    ),
    Source(
        "spread.barenblatt_1952",
        "the similarity solution of a volume released at a point of a porous layer",
        "Barenblatt 1952; closed form, holds on substitution",
        "arithmetic",
    ),
    Source(
        "spread.line_release",
        "line release on a tilted plane: edges x₀ + K sinθ t/φ ± L, L = (9VK cosθ t/2φ²W)^⅓, "
        "depth normal to the plane 3V/(4φWL) · (1 − ξ²/L²)",
        "closed form, holds on substitution",
        "arithmetic",
    ),
    Source("spread.dupuit", "Dupuit parabola between two levels", "closed form", "arithmetic"),
    Source(
        "spread.plume",
        "steady plume on a plane: t = x cot θ, h = C t^(−1/3) − y²/6t, half-width √(6C) · t^⅓, C = (3M/4√6)^(2/3), "
        "M = q/(K sin θ)",
        "similarity solution, holds on substitution",
        "arithmetic",
    ),
    Source(
        "spread.implicit",
        "the spread model's own columns and links led through time by another scheme: all at once, fully implicit",
        "Newton on a sparse factor (scipy.sparse, reference library), own slow twin in the tests",
        "standard",
    ),
    Source(
        "spread.richards",
        "flow in a section of foam that is part full: Richards' equation over length and height, no sheet, no columns "
        "in equilibrium",
        "Richards, Physics 1931;1:318–333: memory; solved by an own slow twin in the tests",
        "memory",
    ),
    Source(
        "spread.column",
        "what a column in capillary equilibrium holds and lets pass: retention and conductivity summed over its height",
        "quadrature of the closed forms (scipy.integrate.quad, reference library)",
        "standard",
    ),
    Source(
        "draw.closed_forms",
        "potential flow: Thiem's well, the image well, parallel plates",
        "closed forms",
        "arithmetic",
    ),
)

_WORKED = (
    Source(
        "worked.small_opening",
        "round opening 6 × 6 cm, depth 2, undermining 4 cm from 12 to 6, height 1.5: opening 28.3 cm², "
        "pocket 62.8, bed "
        "91.1, void 150.8 mL",
        _REDO,
        "arithmetic",
    ),
    Source(
        "worked.half_measured",
        "opening 5 × 2 cm, depth 3, undermining up to 9 cm from 2 to 5, height unknown: well 23.6 mL; pocket 79.7 cm² "
        "if uniform, 28.9 if it tapers; 38–183 mL in all",
        _REDO,
        "arithmetic",
    ),
    Source(
        "worked.lidocaine",
        "99 lb is 44.9 kg: ceiling min(4.5 × 44.9, 300) = 202 mg, at most 20 mL of 1 %; 60 mL of 1 % is 600 mg, of "
        "0.2 % 120 mg; after 80 mg 122 mg are left, 12 mL of 1 %; 50 kg 225 mg, 60 kg 270, 70 kg 300; with epinephrine "
        "60 kg 420, 90 kg 500",
        _REDO,
        "arithmetic",
    ),
    Source(
        "worked.foam_count",
        "placed A1, A2, B1, C1, C2; out come A1, C1, C2 and two halves of A2: five objects, and B1 is missing; label "
        "5 and note 4: five until resolved",
        _REDO,
        "arithmetic",
    ),
    Source(
        "worked.kit",
        "2 instillation and 4 suction ports wanted; in store 1 unit, 3 kits whose tube cannot be placed deep, 2 whose "
        "tube can, 1 Y connector: short are 1 unit, 1 Y connector; with what is there 1 instillation port, 2 suction",
        _REDO,
        "arithmetic",
    ),
    Source(
        "worked.night",
        "60 mL in 2 min, dwell 8, suction 170, exudate 25 mL/h (15–40), fitted 19:00, planned to 90 %: 500 mL at 04:10 "
        "(01:45–07:10), 1000 mL at 14:12 (10:00–19:10); bag 500 less 15 mL: 8 whole cycles, then 55 mL short",
        _REDO,
        "arithmetic",
    ),
    Source(
        "worked.drift",
        "cycles of 2 + 8 + 170 and 2 + 10 + 178 min begun together: 10 min without suction together on the first day, "
        "8 of them dwell; then 2 min from 54 h; together again every 57 h",
        _REDO,
        "arithmetic",
    ),
    Source(
        "worked.balance",
        "480 mL instilled, net 560 and 640 mL on the two days before: 1080 mL expected; 1650 leaves +570, 610 leaves "
        "−470, of which a void of 232 mL cannot hold 235",
        _REDO,
        "arithmetic",
    ),
    Source(
        "worked.healing",
        "151 mL, then 128 mL by another hand: −15 %, two errors of 20 % make 28 %, cannot tell; 36 cm² by length × "
        "width and 28.3 cm² traced are not joined",
        _REDO,
        "arithmetic",
    ),
    Source(
        "worked.cycle",
        "dwell 10 + suction 210 min, fill time 0: 6.545 cycles a day; at 50 mL 327 mL a day",
        _REDO,
        "arithmetic",
    ),
    Source(
        "worked.ring_sectors",
        "round opening radius 2 cm, undermining by hours 6,6,4,2,0,0,0,0,0,2,4,6 from 12: 70.16 cm²",
        _REDO,
        "arithmetic",
    ),
    Source(
        "worked.shapes",
        "10 × 6 × 4 cm: ellipse 47.12 cm²; box 240 mL, elliptic cylinder 188.5, hemi-ellipsoid 125.7, cone 62.8",
        _REDO,
        "arithmetic",
    ),
)

SOURCES: Mapping[str, Source] = MappingProxyType(
    {
        fact.key: fact
        for area in (
            _THERAPY,
            _GATE,
            _FOAM,
            _MEASURING,
            _ARITHMETIC,
            _ANAESTHETIC,
            _FLUIDS,
            _CODES,
            _COUNTING,
            _TURNING,
            _CASES,
            _LAYOUT,
            _FLOW,
            _WORKED,
        )
        for fact in area
    }
)
