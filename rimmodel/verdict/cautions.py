"""What every review says before anyone acts on it."""

CAUTIONS = (
    "An overspeed test can kill. Nobody stays in the pit, on the rotor or beside the housing while it runs.",
    "A prediction is no clearance to run. Protection, trips, brakes and stop limits on gap, vibration and bearing "
    "temperature are proven before, by those who answer for the plant.",
    "Standards, local codes, the maker's instructions and licensed engineers decide; this page informs them.",
    "Cracks, loose keys, bolts, dovetails and fretting are not in the model: inspect them before a fast run.",
)

LEFT_OUT = (
    "Ovality, eccentricity and uneven shims in the gaps of claims and requirements: those are mean gaps of a round "
    "rotor on an even fit. What single keys and poles do stands in the sections of their own.",
    "Three-dimensional effects: plane stress, one value over the length of the rim; bending of the spider.",
    "Slip of laminations and creep, except what is given as settlement or shown by a recording.",
    "Local stress at dovetails, holes and keys beyond the stress concentration factor that the case gives.",
    "Change of the growth of rim and spider between the condition of a recording and another one.",
)
