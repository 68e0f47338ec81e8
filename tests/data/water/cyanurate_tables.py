"""HOCl's share by temperature, and acid demand with cyanurate, from PHREEQC's carbonate (see phreeqc_table.py)."""
import csv, importlib.util, os
HERE = os.path.dirname(os.path.abspath(__file__))
spec = importlib.util.spec_from_file_location('pt', os.path.join(HERE, 'phreeqc_table.py'))
pt = importlib.util.module_from_spec(spec)
spec.loader.exec_module(pt)
GAL, FLOZ, M = 3.785411784, 29.5735295625, 10.006

out = []
for t in (0, 10, 15, 20, 25, 30, 35, 40):
    pk = pt.pk_hocl(t + 273.15)
    out.append([t, round(pk, 3)] + [round(100 / (1 + 10**(ph - pk)), 1) for ph in (6.5, 7.0, 7.2, 7.4, 7.5, 7.6, 7.8, 8.0, 8.2, 8.5)])
with open(os.path.join(HERE, 'hocl_percent.csv'), 'w', newline='') as f:
    w = csv.writer(f)
    w.writerow(['temp_C', 'pKa_Morris', 'pH6.5', 'pH7.0', 'pH7.2', 'pH7.4', 'pH7.5', 'pH7.6', 'pH7.8', 'pH8.0', 'pH8.2', 'pH8.5'])
    w.writerows(out)

def cya_alk(ppm, ph, pk):
    return ppm / 129.075 / (1 + 10**(pk - ph))
def hcl_cya(ta, cya, a, b, pk=6.8):
    carb = ta - cya_alk(cya, a, pk) * 50.043
    return carb, pt.hcl_to(carb, a, b) + cya_alk(cya, a, pk) - cya_alk(cya, b, pk)
rows = []
for ta in (60, 80, 100, 120, 150):
    for cya in (0, 30, 50, 100):
        for a, b in ((7.8, 7.5), (7.8, 7.2), (8.0, 7.4), (8.2, 7.2)):
            c, x = hcl_cya(ta, cya, a, b)
            ml = x / M * 1000
            rows.append([ta, cya, a, b, round(c, 1), round(x, 5), round(ml, 2), round(ml * GAL * 10 / FLOZ, 2)])
with open(os.path.join(HERE, 'acid_demand_cya.csv'), 'w', newline='') as f:
    w = csv.writer(f)
    w.writerow(['TA_measured', 'CYA_mgL', 'pH_from', 'pH_to', 'carbonate_alk', 'HCl_mmol_per_L', 'mL_31.45pct_per_m3', 'US_floz_per_10000gal'])
    w.writerows(rows)
