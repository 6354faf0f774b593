"""What every review says before anyone acts on it."""

CAUTIONS = (
    "An overspeed test can kill. Nobody stays in the pit, on the rotor or beside the housing while it runs.",
    "A prediction does not clear a machine to run. Protection, trips, brakes and stop limits on gap, vibration and "
    "bearing temperature must be proven beforehand by those responsible for the plant.",
    "Standards, local codes, the maker's instructions and licensed engineers decide; this page is for their "
    "information.",
    "Cracks, loose keys, bolts, dovetails and fretting are not in the model: inspect for these before a fast run.",
)

LEFT_OUT = (
    "Ovality, eccentricity and uneven shims in the gaps of claims and requirements other than the least gap: those are "
    "mean gaps of a round rotor on an even fit. The least gap, single keys and poles have annexes of their own.",
    "Three-dimensional effects: plane stress; bending of the spider; one value over the length of the rim, except in "
    "the least gap, first_lift_off and the verdicts on the fit where [axial] states what differs along it.",
    "Slip of laminations and creep, except what is stated as settlement or shown by a recording.",
    "Local stress at dovetails, holes and keys beyond the stress concentration factor that the case gives.",
    "Change of the growth of rim and spider between the condition of a recording and another condition.",
)
