"""Light counted in photons. SI 2019 constants are exact."""

from .spectrum import Spectrum

PLANCK_J_S = 6.62607015e-34
LIGHT_M_S = 299_792_458.0
CHARGE_C = 1.602176634e-19
AVOGADRO_1_MOL = 6.02214076e23


def photon_energy_ev(wavelength_nm: float) -> float:
    """Energy of one photon, eV: E = h c / l. Example: 435 nm = 2.8502 eV."""
    return PLANCK_J_S * LIGHT_M_S / (wavelength_nm * 1e-9) / CHARGE_C


def photons_umol_j(wavelength_nm: float) -> float:
    """Photons in one joule, umol/J: l / (N h c). Example: 450 nm = 3.7617 umol/J."""
    return wavelength_nm * 1e-9 / (AVOGADRO_1_MOL * PLANCK_J_S * LIGHT_M_S) * 1e6


def photon_flux_umol_m2_s(spectrum: Spectrum) -> float:
    """Photons that arrive, umol/(m2 s). Example: 100 W/m2 at 450 nm = 376."""
    return spectrum.irradiance_w_m2 * photons_umol_j(spectrum.mean_nm)


def photon_dose_mol_m2(dose_j_cm2: float, mean_nm: float) -> float:
    """Photons that arrived with a dose, mol/m2. `mean_nm` is the spectrum's mean wavelength.

    Example: 288 J/cm2 (2.88 MJ/m2) at 450 nm = 10.83 mol/m2.
    """
    return dose_j_cm2 * 1e4 * photons_umol_j(mean_nm) * 1e-6
