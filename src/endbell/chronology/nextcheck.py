"""x"""
def next_checks(joint, evidence, dossier, looks):
    return (), ""
