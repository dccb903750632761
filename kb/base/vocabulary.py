"""The closed lists: stages, slots, kinds, families, exposures, verdicts and bases.

Ids here are permanent: lists grow, nothing is renamed. Everything is generic trade or chemical vocabulary.
"""

from typing import Final

STAGES: Final = (
    "strip", "degrease", "abrade-dry", "abrade-wet", "condition", "neutralise",
    "treat", "mount", "cure", "connect", "protect", "verify",
)  # fmt: skip

#: The stage that proves a bond which may be measured already: no time until then counts it.
PROOF_STAGE: Final = "verify"

#: The kinds of catalog items, in the order in which a chain meets them.
KINDS: Final = (
    "substrate", "degreaser", "abrasive", "conditioner", "neutraliser", "treatment",
    "backing", "adhesive", "solder", "flux", "wire", "coating", "aid", "substance",
)  # fmt: skip

FAMILIES: Final[dict[str, tuple[str, ...]]] = {
    "substrate": (
        "carbon-steel", "stainless-steel", "cast-iron", "galvanised-steel", "aluminium-alloy",
        "magnesium-alloy", "titanium-alloy", "nickel-alloy", "copper", "copper-alloy", "bearing-bronze",
        "zinc-alloy", "lead-alloy", "beryllium-alloy", "refractory-metal", "cemented-carbide",
        "precious-metal", "pcb-laminate", "solder-mask", "conformally-coated-board", "mould-compound",
        "alumina-ceramic", "zirconia-ceramic", "silicon", "glass", "glass-ceramic", "carbon-composite",
        "glass-composite", "aramid-composite", "polycarbonate", "acrylic", "polystyrene", "abs", "pvc",
        "pet", "polyamide", "acetal", "peek", "pps", "polyetherimide", "polysulfone", "polyimide",
        "polyethylene", "polypropylene", "fluoropolymer", "epoxy", "polyurethane", "phenolic",
        "silicone-rubber", "rubber", "polymer-foam", "concrete", "stone", "plaster", "wood", "bone",
        "paper-board", "painted-surface", "plated-surface", "anodised-aluminium", "tin-alloy",
        "zirconium-alloy", "cobalt-alloy", "graphite", "technical-ceramic", "beryllia-ceramic",
        "electronic-ceramic", "porcelain", "crystal", "conversion-coated", "board-finish",
        "vitreous-enamel", "thermal-spray-coating", "magnet-material", "polylactide", "lcp", "ppe", "san",
        "asa", "cyclo-olefin", "cellulose-acetate", "melamine", "thermoplastic-elastomer", "battery-cell",
        "bitumen", "sandwich-panel", "fibre-cement", "asbestos-product", "leather", "cork", "ice", "tooth",
    ),
    "degreaser": (
        "alcohol", "ketone", "ester", "aliphatic-hydrocarbon", "aromatic-hydrocarbon", "chlorinated",
        "fluorinated-ether", "terpene", "aqueous-detergent",
    ),
    "abrasive": (
        "silicon-carbide-paper", "alumina-paper", "non-woven-pad", "diamond-film", "grit-blast",
        "pumice-powder", "masonry-grinder",
    ),
    "conditioner": ("mild-phosphoric", "mild-citric", "alkaline-cleaner", "deionised-water"),
    "neutraliser": ("dilute-ammonia", "bicarbonate", "deionised-water-rinse"),
    "treatment": (
        "sodium-naphthalene-etch", "plasma", "corona", "flame", "polyolefin-primer", "silane-primer",
        "epoxy-fill-coat", "cyanoacrylate-accelerator",
    ),
    "backing": (
        "polyimide-film", "glass-phenolic", "epoxy-film", "paper", "free-filament", "metal-shim", "hermetic-weldable",
    ),
    "adhesive": (
        "cyanoacrylate", "methacrylate", "uv-acrylate", "polyester", "polyurethane", "silicone",
        "epoxy-room-cure", "epoxy-heat-cure", "epoxy-phenolic", "polyimide", "ceramic-cement",
    ),
    "solder": (
        "tin-lead", "tin-silver-copper", "tin-antimony", "high-lead", "spot-weld", "crimp", "conductive-adhesive",
    ),
    "flux": ("rosin-mild", "rosin-activated", "no-clean", "water-soluble-acid", "inorganic-acid"),
    "wire": (
        "pvc-insulated", "polyurethane-enamel", "polyimide-insulated", "ptfe-insulated", "glass-braided",
        "bare-high-temperature", "mineral-insulated", "silicone-insulated", "polyurethane-sheathed",
        "polyethylene-sheathed",
    ),
    "coating": (
        "acrylic-lacquer", "polyurethane-lacquer", "nitrile-lacquer", "fluoropolymer-lacquer",
        "polyimide-varnish", "silicone-neutral-cure", "silicone-acetoxy", "silicone-addition-cure",
        "microcrystalline-wax", "petrolatum", "butyl-mastic", "foil-faced-butyl", "polysulfide",
        "epoxy-encapsulant", "parylene", "ceramic-cement",
        "fluorosilicone", "chloroprene-rubber", "epdm-rubber", "fluoropolymer-tape", "glass-cloth", "heat-shrink",
        "polyurethane-encapsulant", "metal-guard", "sprayed-ceramic",
    ),
    "aid": ("wipes", "swabs", "tape", "film", "pads", "vials", "blades", "brushes", "files"),
    "substance": ("solvent", "monomer", "hardener", "inorganic", "by-product", "resin", "additive", "dust"),
}  # fmt: skip

EXPOSURES: Final = (
    "dry-air", "humid-air", "condensing", "outdoor-weather", "fresh-water-immersion",
    "sea-water-immersion", "salt-fog", "mineral-oil", "hydrocarbon-fuel", "phosphate-ester-fluid",
    "solvent-splash", "acid-fume", "alkali", "steam", "vacuum", "cryogenic-liquid", "ionising-radiation",
    "oxygen-enriched", "mechanical-wear", "chemical-immersion", "glycol-coolant", "ester-oil", "alcohol-fuel",
    "body-fluid", "burial", "cast-in", "wash-down", "explosive-atmosphere",
)  # fmt: skip

#: How well a material stands an exposure.
RESISTANCE: Final = ("good", "fair", "poor")

VERDICTS: Final = ("block", "need", "caution", "prefer", "suits")

#: Where a statement stands on, best founded first.
BASES: Final = ("by-definition", "standard", "handbook", "dataset", "computed", "common-practice", "memory")
CITED_BASES: Final = ("standard", "handbook", "dataset")

SURFACES: Final = (
    "bare", "painted", "plated", "anodised", "solder-masked", "conformally-coated", "oxidised", "oily", "porous",
    "wet",
)  # fmt: skip

#: Whose list of workplace limits it is; an advisory list, the last, binds nobody.
JURISDICTIONS: Final = ("eu", "france", "estonia", "uk", "ontario", "us", "california", "advisory")
#: What a test of a part, its paint or its plating may have shown to be absent.
TESTED_FOR: Final = ("asbestos", "beryllium", "cadmium", "chromate", "lead", "thorium")

#: Hazards by which a user may refuse an item, and which a procedure warns of.
HAZARDS: Final = (
    "flammable", "corrosive", "irritant", "toxic", "isocyanate", "chromate", "amine", "chlorinated",
    "sensitiser", "reproductive-toxicant", "carcinogen", "oxidiser", "bonds-skin", "water-reactive",
    "fibre-dust", "silica-dust", "metal-dust", "hot-work", "uv-light", "high-voltage", "fluorinated-greenhouse",
    "aquatic-toxicant", "narcotic", "fume-when-hot", "alkaline", "acid", "asbestos", "radioactive",
    "stored-energy", "pyrophoric",
)  # fmt: skip
