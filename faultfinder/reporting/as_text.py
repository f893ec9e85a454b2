from faultfinder.diagnosis.result import Diagnosis


def diagnosis_text(d: Diagnosis) -> str:
    return d.verdict
