"""Dilution, strength and labels of hydrogen peroxide against published tables. Each source stands beside its check."""

import pytest

from lampwarden.care import peroxide

# Density at 18 C: handbook table, from memory (30 % about 1.11 read in an EPA summary). Other columns computed with
# M = 34.0147 g/mol and 11.2 L of oxygen per mole.
TABLE = [
    (1, 1.0022, 10.0, 0.295, 3.3),
    (2, 1.0058, 20.1, 0.591, 6.6),
    (3, 1.0095, 30.3, 0.890, 10.0),
    (4, 1.0131, 40.5, 1.191, 13.4),
    (6, 1.0204, 61.2, 1.800, 20.2),
    (8, 1.0277, 82.2, 2.417, 27.1),
    (10, 1.0351, 103.5, 3.043, 34.1),
    (12, 1.0425, 125.1, 3.678, 41.2),
    (20, 1.0725, 214.5, 6.306, 70.7),
    (27.5, 1.1020, 303.1, 8.909, 99.8),
    (30, 1.1122, 333.7, 9.809, 109.9),
    (35, 1.1327, 396.4, 11.655, 130.6),
    (50, 1.1966, 598.3, 17.589, 197.1),
]


@pytest.mark.parametrize(("pct", "g_ml", "g_l", "mol_l", "vol"), TABLE)
def test_strength_table(pct, g_ml, g_l, mol_l, vol):
    assert peroxide.density_g_ml(pct) == pytest.approx(g_ml, abs=5e-5)
    assert peroxide.grams_per_litre(pct) == pytest.approx(g_l, abs=0.05)
    assert peroxide.molarity(pct) == pytest.approx(mol_l, abs=6e-4)
    assert peroxide.volume_strength(pct) == pytest.approx(vol, abs=0.15)
    assert peroxide.from_grams_per_litre(peroxide.grams_per_litre(pct)) == pytest.approx(pct, abs=1e-3)


def test_thirty_volumes():
    # 30 vol = 2.678 mol/L = 91.1 g/L: chemistry tutorial, read.
    pct = peroxide.from_volume_strength(30)
    assert peroxide.molarity(pct) == pytest.approx(2.678, abs=0.001)
    assert peroxide.grams_per_litre(pct) == pytest.approx(91.1, abs=0.05)


def test_shop_label_ten_volumes_is_three_per_cent():
    # "10 vol = 3 %", "20 vol = 6 %" are w/v shop values (a supplier's sheet, read).
    assert peroxide.from_volume_strength(10) == pytest.approx(3.0, abs=0.05)
    assert peroxide.from_volume_strength(20) == pytest.approx(6.0, abs=0.1)


# m_stock = m_total w / w_stock: computed.
@pytest.mark.parametrize(
    ("stock", "target", "total", "stock_g", "stock_ml", "water_g"),
    [
        (3, 1, 1000, 333.3, 330.2, 666.7),
        (3, 0.5, 1000, 166.7, 165.1, 833.3),
        (12, 3, 1000, 250.0, 239.8, 750.0),
        (12, 1, 1000, 83.3, 79.9, 916.7),
        (6, 3, 500, 250.0, 245.0, 250.0),
    ],
)
def test_dilution_by_mass(stock, target, total, stock_g, stock_ml, water_g):
    sentence = peroxide.confirmation_sentence(stock)
    agreed = peroxide.Confirmation(stock, sentence, "A. Tester") if sentence else None
    made = peroxide.dilute(stock, target, total_g=total, confirmed=agreed)
    assert made.stock_g == pytest.approx(stock_g, abs=0.05)
    assert made.stock_ml == pytest.approx(stock_ml, abs=0.05)
    assert made.water_g == pytest.approx(water_g, abs=0.05)


# EU CLP Annex VI 008-003-00-9: 8 % and more read at gischem.de and the ECHA registry; 5 to 8 % and H335 from memory.
@pytest.mark.parametrize(
    ("pct", "classes"),
    [
        (3, []),
        (4.99, []),
        (5, ["Eye Irrit. 2"]),
        (7.99, ["Eye Irrit. 2"]),
        (8, ["Eye Dam. 1", "Ox. Liq. 3"]),
        (12, ["Eye Dam. 1", "Ox. Liq. 3"]),
        (30, ["Acute Tox. 4", "Eye Dam. 1"]),
        (35, ["Skin Irrit. 2", "STOT SE 3", "Acute Tox. 4", "Eye Dam. 1"]),
        (50, ["Ox. Liq. 2", "Skin Corr. 1B", "STOT SE 3"]),
        (70, ["Ox. Liq. 1", "Skin Corr. 1A", "STOT SE 3"]),
    ],
)
def test_labels_by_strength(pct, classes):
    assert [label.hazard for label in peroxide.labels(pct)] == classes
