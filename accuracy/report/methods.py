"""Methods in short with their sources, and what somebody else needs to make the report again."""

from __future__ import annotations

from accuracy.core.evaluation.folds import MOST_FITS
from accuracy.report.document import Section
from accuracy.services.method import METHOD_VERSION

PROGRAM_VERSION = "0.1.0"
"""As in pyproject.toml, which an image does not hold."""

REFERENCES = (
    "Banister EW (1991). Modeling elite athletic performance. In: MacDougall JD, Wenger HA, Green HJ (eds). "
    "Physiological testing of the high-performance athlete. Human Kinetics, 403-424.",
    "Bland JM, Altman DG (1986). Statistical methods for assessing agreement between two methods of clinical "
    "measurement. Lancet 327(8476):307-310.",
    "Bland JM, Altman DG (1999). Measuring agreement in method comparison studies. Stat Methods Med Res "
    "8:135-160.",
    "Bland JM, Altman DG (2007). Agreement between methods of measurement with multiple observations per "
    "individual. J Biopharm Stat 17:571-582.",
    "Dawid AP (1984). Statistical theory: the prequential approach. J R Stat Soc A 147:278-292.",
    "Garber CE et al. (2011). Quantity and quality of exercise for developing and maintaining fitness. Med "
    "Sci Sports Exerc 43(7):1334-1359.",
    "Lin LI (1989). A concordance correlation coefficient to evaluate reproducibility. Biometrics "
    "45:255-268.",
    "Miller RG (1974). The jackknife: a review. Biometrika 61:1-15.",
    "Mühlen JM et al. (2021). INTERLIVE recommendations for consumer wearable heart-rate devices. Br J "
    "Sports Med 55:767-779.",
    "Passing H, Bablok W (1983). A new biometrical procedure for testing the equality of measurements from "
    "two different analytical methods. J Clin Chem Clin Biochem 21:709-720.",
    "Shrout PE, Fleiss JL (1979). Intraclass correlations: uses in assessing rater reliability. Psychol Bull "
    "86:420-428.",
    "Stone M (1974). Cross-validatory choice and assessment of statistical predictions. J R Stat Soc B "
    "36:111-147.",
    "Yao Y, Vehtari A, Simpson D, Gelman A (2018). Using stacking to average Bayesian predictive "
    "distributions. Bayesian Analysis 13:917-1007.",
)


def methods() -> Section:
    """Section on the methods; the sources stand in the document's list."""
    return Section(
        "Methods",
        (
            "Limits of agreement over sessions: one-way analysis of variance of the differences on the "
            "sessions, with a variance between sessions below zero taken as zero (Bland and Altman 2007). "
            "Limits that change with the rate: regression of the differences on the means, and of the "
            "absolute residuals on the means (Bland and Altman 1999). They are drawn where the interval of "
            "the slope leaves out zero.",
            "Intervals over sessions: one session is left out at a time (the jackknife, Miller 1974), with "
            "Student's t on one degree of freedom less than there are sessions; correlations by way of the "
            "inverse hyperbolic tangent. No interval is given with fewer than three sessions.",
            "Concordance is Lin's (1989), intraclass correlations are Shrout and Fleiss' (1979), the "
            "regression by ranks is Passing and Bablok's (1983). Bands of intensity are shares of heart-rate "
            "reserve (Garber and colleagues 2011).",
            "Load is Banister's training impulse (1991) of the common seconds. Ratios of loads are compared "
            "by their logarithms (Bland and Altman 1986).",
            "The correction draws on all pairs of the log by partial pooling over sensor, firmware, kind of "
            "work and activity; several ways to foretell the error from the tested trace are weighed by how "
            "well they foretold other sessions (Yao and colleagues 2018). For this report sessions were held "
            f"out in at most {MOST_FITS} groups and everything was learned anew for each (Stone 1974). "
            "Calibration is told by the probability that each prediction gave to a load below the one that "
            "came (Dawid 1984).",
        ),
    )


def colophon() -> str:
    """Version of program and method."""
    return (
        f"Written by rules from the numbers by Trainlog {PROGRAM_VERSION}, method {METHOD_VERSION}. The same "
        "recordings give the same report."
    )
