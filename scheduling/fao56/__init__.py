"""The equations of FAO Irrigation and Drainage Paper 56, one function each.

Allen, R. G., Pereira, L. S., Raes, D., Smith, M. (1998): Crop evapotranspiration, guidelines
for computing crop water requirements. FAO, Rome. "FAO-56" below; page numbers are the printed
ones. Everything takes and gives plain floats, for a daily time step.

Glossary. The name is the one used for parameters, the symbol the one of the paper.

======================= ======= ============ ====================================================
name                    symbol  unit         meaning
======================= ======= ============ ====================================================
actual_kpa              ea      kPa          pressure of the water vapour that the air holds
clear_sky_mj_m2         Rso     MJ/m² a day  solar radiation that would arrive without clouds
cloud_share             c       0 to 1       share of the sky that clouds cover, mean of the day
day_of_season           i       day          1 on the day of planting
day_of_year             J       day          1 on the first of January, at most 366
daylight_h              N       h            longest possible sunshine of the day
declination_rad         δ       rad          angle of the sun above the equator's plane
depletion_fraction      p       0 to 1       share of TAW that plants use up without stress
depletion_mm            Dr      mm           water that a root zone lacks to field capacity
elevation_m             z       m            height above sea level
etc_mm                  ETc     mm/day       evapotranspiration of a well-watered crop, Kc ETo
eto_mm                  ETo     mm/day       evapotranspiration of the grass reference
extraterrestrial_mj_m2  Ra      MJ/m² a day  solar radiation above the atmosphere
fc                      fc      0 to 1       share of the ground that plants shade
few                     few     0 to 1       share of the ground that is both exposed and wetted
field_capacity          θFC     m³/m³        water content of a soil that has drained
fw                      fw      0 to 1       share of the surface that was wetted last
height_m                h       m            mean height of the plants
kc                      Kc      -            ETc over ETo
kc_ini, kc_mid, kc_end  -       -            Kc at first, at full cover, and at the very end
kc_max                  Kc max  -            largest that plants and wet soil can have together
kcb                     Kcb     -            basal coefficient: Kc above a dry surface
ke                      Ke      -            soil evaporation coefficient, Kc - Kcb
kr                      Kr      0 to 1       how freely the surface still evaporates
ks                      Ks      0 to 1       what is left of ETc where water is short
latitude_deg            φ       degree       north positive, south negative
net_longwave_mj_m2      Rnl     MJ/m² a day  heat radiation lost, outgoing minus incoming
net_mj_m2               Rn      MJ/m² a day  Rns - Rnl
net_shortwave_mj_m2     Rns     MJ/m² a day  solar radiation that the grass keeps
pressure_kpa            P       kPa          pressure of the atmosphere
psychrometric_kpa_c     γ       kPa/°C       psychrometric constant
raw_mm                  RAW     mm           readily available water, the part used without stress
relative_distance       dr      -            inverse square of the distance earth to sun
rew_mm                  REW     mm           readily evaporable water of the surface layer
rh_max_pct, rh_min_pct  RH      %            highest and lowest relative humidity of the day
root_depth_m            Zr      m            depth of the root zone
saturation_kpa          es      kPa          vapour pressure of saturated air, mean of the day
slope_kpa_c             Δ       kPa/°C       slope of the saturation curve at the mean temperature
soil_heat_mj_m2         G       MJ/m² a day  heat into the soil, 0 for a single day (equation 42)
solar_mj_m2             Rs      MJ/m² a day  solar radiation at the ground
sunset_hour_angle_rad   ωs      rad          angle the earth turns from noon to sunset
sunshine_h              n       h            sunshine of the day
t_dew_c                 Tdew    °C           temperature at which the air's vapour would condense
t_max_c, t_min_c        -       °C           highest and lowest air temperature of the day
t_mean_c                -       °C           their mean (not the mean of the hours)
taw_mm                  TAW     mm           total available water, field capacity to wilting
tew_mm                  TEW     mm           total evaporable water of the surface layer
wilting_point           θWP     m³/m³        water content at which plants wilt for good
wind_2m_m_s             u2      m/s          mean wind of the day, 2 m above ground
======================= ======= ============ ====================================================
"""
