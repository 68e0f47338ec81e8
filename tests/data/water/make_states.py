#!/usr/bin/env python3
"""New states of pool water from PHREEQC, to compare dosewarden's water chemistry with. Writes states.csv beside this file.

    pip install phreeqpython==1.6.2        (VIPhreeqc with its database phreeqc.dat; PHREEQC is the USGS model)
    python3 make_states.py

The states are drawn from one seed over the whole range that is claimed and were used to fit nothing. The water is
Ca as CaCl2, alkalinity as NaHCO3, cyanuric acid, boric acid, hypochlorous acid, and the rest of TDS as NaCl;
TDS is the sum of those first three salts as weighed in. Total alkalinity is PHREEQC's own: it counts cyanurate, borate and
hypochlorite. Carbonate, calcium, sodium, borate and all activities are PHREEQC's. Cyanuric and
hypochlorous acid are not in its database: their constants are those of dosewarden (O'Brien 1974 from memory, slopes
with temperature Wahman 2018 and Wahman and Alexander 2019, Morris 1966), so those columns check the
solution of the equations and the activities, not these constants.
"""
import csv, math, os, random, sys
from phreeqpython import PhreeqPython
HERE = os.path.dirname(os.path.abspath(__file__))
SEED = int(sys.argv[1]) if len(sys.argv) > 1 else 20261125
OUT = sys.argv[2] if len(sys.argv) > 2 else os.path.join(HERE, 'states.csv')
M_CACO3, M_CACL2, M_NAHCO3, M_NACL = 100.0869, 110.984, 84.0066, 58.443
EQ_CACO3 = M_CACO3 / 2
M_CYA, M_B, M_CL2 = 129.075, 10.81, 70.906

pp = PhreeqPython(database='phreeqc.dat')
def kj(slope):                     # enthalpy in kJ/mol of a pK that goes with slope/T
    return slope * math.log(10) * 8.314462618e-3
# Oxc stands for the OCl of hypochlorous acid; what it makes of cyanurate keeps its water, so that H and O balance.
pp.ip.run_string(f"""
SOLUTION_MASTER_SPECIES
    Cya  H3Cya  0  129.075  129.075
    Oxc  HOxc   0  52.46    52.46
SOLUTION_SPECIES
H3Cya = H3Cya
    log_k 0
HOxc = HOxc
    log_k 0
HOxc = Oxc- + H+
    -analytic 10.0686 -0.0253 -3000
H3Cya = H2Cya- + H+
    log_k -6.88
    delta_h {kj(1743)} kJ
H2Cya- + HOxc = H3OxcCya-
    log_k 5.62
H3OxcCya- + HOxc = H4Oxc2Cya-
    log_k 4.51
    delta_h {-kj(2028)} kJ
H3OxcCya- + H+ = H4OxcCya
    log_k 5.33
H3OxcCya- = H2OxcCya-2 + H+
    log_k -10.12
END
""")

number = 1000
def solution(temp, ta, ca, tds, ph, cya, boron, chlorine):
    global number
    number += 1
    ca_mm, alk = ca / M_CACO3, ta / EQ_CACO3
    nacl = max(0.0, (tds - ca_mm * M_CACL2 - alk * M_NAHCO3) / M_NACL)
    extra = ''
    if cya: extra += f'  Cya {cya / M_CYA:.10f}\n'
    if boron: extra += f'  B {boron / M_B:.10f}\n'
    if chlorine: extra += f'  Oxc {chlorine / M_CL2:.10f}\n'
    pp.ip.run_string(f"""
SOLUTION {number}
  temp {temp}
  units mmol/kgw
  pH {ph}
  Ca {ca_mm:.10f}
  Alkalinity {alk:.10f}
  Na {alk + nacl:.10f}
  Cl {2 * ca_mm + nacl:.10f} charge
{extra}END
""")
    return pp.get_solution(number)

def after(state, acid):            # pH after `acid` mmol/kgw of HCl, closed to the air
    s = solution(*state)
    s.add('HCl', acid, 'mmol')
    ph = s.pH
    s.forget()
    return ph

def demand(state, to_ph):
    lo, hi = 0.0, 8.0
    for _ in range(40):
        mid = 0.5 * (lo + hi)
        if after(state, mid) > to_ph: lo = mid
        else: hi = mid
    return 0.5 * (lo + hi)

def draw(rng, kind):
    while True:
        temp, ta = rng.uniform(2, 40), rng.uniform(40, 200)
        ca, tds = rng.uniform(100, 600), math.exp(rng.uniform(math.log(300), math.log(6000)))
        ph = rng.uniform(6.7, 8.5)
        to_ph = rng.uniform(6.5, ph - 0.1)
        cya = rng.uniform(10, 100) if kind in ('cyanurate', 'all') else 0.0
        boron = rng.uniform(10, 60) if kind in ('borate', 'all') else 0.0
        chlorine = rng.uniform(0.5, 10) if kind in ('chlorine', 'cyanurate', 'all') else 0.0
        # Rough, only so that carbonate is left: water whose whole alkalinity is cyanurate or borate is no pool.
        other = cya / M_CYA / (1 + 10 ** (6.7 - ph)) + boron / M_B / (1 + 10 ** (9.0 - ph)) + chlorine / M_CL2
        if ta / EQ_CACO3 - other > 0.3:
            r = lambda x, n: round(x, n)
            return (r(temp, 1), r(ta, 1), r(ca, 0), r(tds, 0), r(ph, 2), r(cya, 1), r(boron, 1), r(chlorine, 2)), r(to_ph, 2)

def row(kind, state, to_ph):
    s = solution(*state)
    mm = s.species_molalities
    out = [kind, *state, to_ph, f'{s.I:.6f}', f"{s.si('Calcite'):.4f}", f"{s.total_element('C', 'mmol'):.5f}",
           f"{1e3 * mm.get('CO2', 0):.6f}", f"{s.si('CO2(g)'):.4f}", f"{1e6 * mm.get('HOxc', 0):.5f}", f"{1e6 * mm.get('Oxc-', 0):.5f}"]
    s.forget()
    acid = demand(state, to_ph)
    out += [f'{acid:.6f}', f'{after(state, acid / 2):.4f}']
    return out

if __name__ == '__main__':
    rng = random.Random(SEED)
    kinds = ["plain"] * 330 + ['chlorine'] * 60 + ['cyanurate'] * 120 + ['borate'] * 80 + ['all'] * 60
    # The corners of the range, so that its edges are not left to chance.
    corners = [((t, ta, ca, tds, ph, 0.0, 0.0, 0.0), 6.5) for t in (2.0, 40.0) for ta in (40.0, 200.0)
               for ca in (100.0, 600.0) for tds in (300.0, 6000.0) for ph in (6.6, 8.5)]
    with open(OUT, 'w', newline='') as f:
        f.write(f'# PHREEQC (VIPhreeqc, phreeqpython 1.6.2, database phreeqc.dat), made by make_states.py with seed {SEED}\n')
        w = csv.writer(f, lineterminator='\n')
        w.writerow('kind,temp_c,ta_mg_l,ca_mg_l,tds_mg_l,ph,cya_mg_l,boron_mg_l,chlorine_mg_l,to_ph,ionic_strength_mol_kgw,'
                   'si_calcite,dic_mmol_kgw,co2_mmol_kgw,log10_pco2_atm,hocl_umol_kgw,ocl_umol_kgw,hcl_mmol_kgw,ph_after_half_the_acid'.split(','))
        for state, to_ph in corners:
            w.writerow(row('corner', state, to_ph))
        for kind in kinds:
            w.writerow(row(kind, *draw(rng, kind)))
