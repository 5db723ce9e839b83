/* The engine cycle of src/sparkwright/cycle/kernel.py once more, in C: a yardstick for its speed.
 *
 * Same equations, same steps, same order of work; see the Python file for what they mean and after whom.
 * Everything is in SI units, crank angles in radians after top dead centre. */

#include <math.h>

typedef struct {
    double crank_radius_m, rod_m, piston_m2, clearance_m3, displaced_m3, bore_m, fixed_wall_m2, wall_k;
    double end_gas_walls, intake_closes_rad, exhaust_opens_rad, speed_rad_s, mass_kg, gas_constant_j_kgk;
    double closing_k, h_middle_j_kg, h_half_j_kg, lnp_middle, lnp_half, flame_alpha, flame_beta, length;
    double burn_up, closing_intensity_m_s, gas_velocity_m_s, top_velocity_m_s, velocity_per_rise, ln_mass_r;
    double ln_gas_constant, ln_closing_density, ln_flame_speed, ln_woschni, ln_induction;
    double sutherland_factor, sutherland_k, spark_radius_m, end_gas_share, motored_exponent;
    double growth_in_a_step, tail_share, velocity_rounding, least_room;
    const double *unburned, *pv_surface, *temperature_surface, *flame_table;
    long surface_rows, surface_columns, table_rows, table_columns;
} charge_t;

enum { PRESSURE, UNBURNED_K, BURNED_ENTHALPY, BURNED, ENTRAINED, WORK, HEAT, KNOCK, STATES };
enum { RESULTS = 14 };

typedef struct { double value, by_x, by_y; } surface_t;
typedef struct { long first; double w[4]; } cubic_t;
typedef struct { double work, heat, knock; } sums_t;
typedef struct { double warming, work, heat, knock; } compressing_t;

static double volume_of(const charge_t *c, double angle, double *by_angle)
{
    double across = c->crank_radius_m * sin(angle);
    double along = c->crank_radius_m * cos(angle);
    double rod = sqrt(c->rod_m * c->rod_m - across * across);
    *by_angle = c->piston_m2 * across * (1.0 + along / rod);
    return c->clearance_m3 + c->piston_m2 * (c->crank_radius_m + c->rod_m - along - rod);
}

static double cp_of(const charge_t *c, double temperature)
{
    const double *a = c->unburned;
    double t = 1e-3 * temperature;
    return a[0] + t * (a[1] + t * (a[2] + t * (a[3] + t * (a[4] + t * a[5]))));
}

static double enthalpy_of(const charge_t *c, double temperature)
{
    const double *a = c->unburned;
    double t = 1e-3 * temperature;
    return a[6] + temperature
        * (a[0] + t * (a[1] / 2 + t * (a[2] / 3 + t * (a[3] / 4 + t * (a[4] / 5 + t * a[5] / 6)))));
}

static double viscosity_of(const charge_t *c, double temperature, double density)
{
    return c->sutherland_factor * temperature * sqrt(temperature) / ((temperature + c->sutherland_k) * density);
}

static surface_t surface_of(const double *coefficients, long rows, long columns, double x, double y)
{
    surface_t s = {0.0, 0.0, 0.0};
    for (long i = rows - 1; i >= 0; i--) {
        double inner = 0.0, inner_by_y = 0.0;
        for (long j = columns - 1; j >= 0; j--) {
            inner_by_y = inner_by_y * y + inner;
            inner = inner * y + coefficients[i * columns + j];
        }
        s.by_x = s.by_x * x + s.value;
        s.value = s.value * x + inner;
        s.by_y = s.by_y * x + inner_by_y;
    }
    return s;
}

static double surface_value_of(const double *coefficients, long rows, long columns, double x, double y)
{
    double value = 0.0;
    for (long i = rows - 1; i >= 0; i--) {
        double inner = 0.0;
        for (long j = columns - 1; j >= 0; j--)
            inner = inner * y + coefficients[i * columns + j];
        value = value * x + inner;
    }
    return value;
}

static long between(long value, long low, long high)
{
    return value < low ? low : value > high ? high : value;
}

static cubic_t cubic_of(double place, long nodes)
{
    long first = between((long)place, 0, nodes - 2);
    double t = place - (double)first;
    cubic_t cubic = {first - 1,
                     {t * (-0.5 + t * (1.0 - 0.5 * t)), 1.0 + t * t * (1.5 * t - 2.5),
                      t * (0.5 + t * (2.0 - 1.5 * t)), t * t * (0.5 * t - 0.5)}};
    return cubic;
}

static double flame_factor_of(const charge_t *c, double share_root, double volume)
{
    long pistons = c->table_rows, shares = c->table_columns;
    double low = c->clearance_m3 / (c->clearance_m3 + c->displaced_m3);
    cubic_t u = cubic_of(share_root * (double)(shares - 1), shares);
    cubic_t w = cubic_of((c->clearance_m3 / volume - low) / (1.0 - low) * (double)(pistons - 1), pistons);
    double total = 0.0;
    for (long r = 0; r < 4; r++) {
        const double *row = c->flame_table + shares * between(w.first + r, 0, pistons - 1);
        total += w.w[r]
            * (u.w[0] * row[between(u.first, 0, shares - 1)] + u.w[1] * row[u.first + 1]
               + u.w[2] * row[u.first + 2] + u.w[3] * row[between(u.first + 3, 0, shares - 1)]);
    }
    return fmax(total, 0.0);
}

static double wall_conductance_of(
    const charge_t *c, double ln_pressure, double ln_volume, double volume, double rise_pa)
{
    double shut = c->clearance_m3 / volume;
    double at_top = c->top_velocity_m_s * shut * shut, by_burn = c->velocity_per_rise * rise_pa;
    double width = c->velocity_rounding * c->gas_velocity_m_s, apart = at_top - by_burn;
    double velocity = c->gas_velocity_m_s + 0.5 * (at_top + by_burn + sqrt(apart * apart + width * width));
    double area = c->fixed_wall_m2 + 4.0 * (volume - c->clearance_m3) / c->bore_m;
    double ln_mean_k = ln_pressure + ln_volume - c->ln_mass_r;
    return area * exp(c->ln_woschni + 0.8 * (ln_pressure + log(velocity)) - 0.53 * ln_mean_k);
}

static double aging_of(const charge_t *c, double ln_pressure, double temperature)
{
    return exp(1.7 * ln_pressure - 3800.0 / temperature - c->ln_induction);
}

static compressing_t compressing_rates(const charge_t *c, double angle, double temperature)
{
    double by_angle, volume = volume_of(c, angle, &by_angle);
    double growth = by_angle * c->speed_rad_s;
    double pressure = c->mass_kg * c->gas_constant_j_kgk * temperature / volume;
    double ln_pressure = log(pressure);
    double heat = wall_conductance_of(c, ln_pressure, log(volume), volume, 0.0) * (temperature - c->wall_k);
    double cv = cp_of(c, temperature) - c->gas_constant_j_kgk;
    compressing_t rates = {-(pressure * growth + heat) / (c->mass_kg * cv), pressure * growth, heat,
                           aging_of(c, ln_pressure, temperature)};
    return rates;
}

static void burning_rates(const charge_t *c, double ln_spark_pvn, double angle, const double *state, double *rates)
{
    double pressure = state[PRESSURE], unburned_k = state[UNBURNED_K];
    double burned = state[BURNED], entrained = state[ENTRAINED];
    double by_angle, volume = volume_of(c, angle, &by_angle);
    double growth = by_angle * c->speed_rad_s;
    double ln_pressure = log(pressure), ln_unburned_k = log(unburned_k), ln_volume = log(volume);
    double constant = c->gas_constant_j_kgk;
    double specific_m3 = constant * unburned_k / pressure;
    double cp = cp_of(c, unburned_k), enthalpy = enthalpy_of(c, unburned_k);

    double h = state[BURNED_ENTHALPY] / burned;
    double x = (h - c->h_middle_j_kg) / c->h_half_j_kg;
    double y = (ln_pressure - c->lnp_middle) / c->lnp_half;
    surface_t pv = surface_of(c->pv_surface, c->surface_rows, c->surface_columns, x, y);
    double burned_k = surface_value_of(c->temperature_surface, c->surface_rows, c->surface_columns, x, y);
    double pv_h = pv.by_x / c->h_half_j_kg, pv_lnp = pv.by_y / c->lnp_half;
    double unburned = c->mass_kg - burned;
    double burned_m3 = burned * pv.value / pressure, unburned_m3 = unburned * specific_m3;

    double flame_m3 = burned_m3 + (entrained - burned) * specific_m3;
    double ahead = fmax(c->mass_kg - entrained, 0.0);
    double share = flame_m3 / volume;
    share += share * (1.0 - ahead * specific_m3 / volume - share);
    double share_root = pow(fmin(fmax(share, 1e-12), 1.0), 1.0 / 3.0);
    double area = flame_factor_of(c, share_root, volume) * share_root * share_root * exp(2.0 / 3.0 * ln_volume);
    double ln_density = ln_pressure - ln_unburned_k - c->ln_gas_constant;
    double intensity = c->closing_intensity_m_s * exp((ln_density - c->ln_closing_density) / 3.0);
    double speed = exp(c->ln_flame_speed + c->flame_alpha * ln_unburned_k + c->flame_beta * ln_pressure);

    double length = c->length * volume / c->piston_m2;
    double viscosity = viscosity_of(c, unburned_k, 1.0 / specific_m3);
    double burn_up_s = c->burn_up * sqrt(15.0 * viscosity * length / intensity) / speed;
    double burning = (entrained - burned) / burn_up_s;

    double motored = exp(ln_spark_pvn - c->motored_exponent * ln_volume);
    double conductance = wall_conductance_of(c, ln_pressure, ln_volume, volume, pressure - motored);
    double burned_heat = conductance * burned_m3 / volume * (burned_k - c->wall_k);
    double unburned_cooling = c->end_gas_walls * conductance * specific_m3 / volume * (unburned_k - c->wall_k);
    double unburned_heat = unburned * unburned_cooling;

    double pressing =
        (-pressure * growth + burning * (pv.value - constant * unburned_k + pv_h * (enthalpy - h))
         - constant * unburned_heat / cp - pv_h * burned_heat)
        / (volume - constant * unburned_m3 / cp - pv_h * burned_m3 - burned * pv_lnp / pressure);

    rates[PRESSURE] = pressing;
    rates[UNBURNED_K] = (specific_m3 * pressing - unburned_cooling) / cp;
    rates[BURNED_ENTHALPY] = enthalpy * burning + burned_m3 * pressing - burned_heat;
    rates[BURNED] = burning;
    rates[ENTRAINED] = area * (intensity + speed) / specific_m3;
    rates[WORK] = pressure * growth;
    rates[HEAT] = burned_heat + unburned_heat;
    rates[KNOCK] = ahead / (ahead + c->end_gas_share * c->mass_kg) * aging_of(c, ln_pressure, unburned_k);
}

static double compress(const charge_t *c, double start, double end, double temperature, sums_t *sums, double step)
{
    double wanted = ceil((end - start) / step - 1e-9);
    long steps = wanted > 1.0 ? (long)wanted : 1;
    double turn = (end - start) / (double)steps, dt = turn / c->speed_rad_s;
    for (long i = 0; i < steps; i++) {
        double angle = start + (double)i * turn;
        compressing_t a = compressing_rates(c, angle, temperature);
        compressing_t b = compressing_rates(c, angle + 0.5 * turn, temperature + 0.5 * dt * a.warming);
        compressing_t d = compressing_rates(c, angle + 0.5 * turn, temperature + 0.5 * dt * b.warming);
        compressing_t e = compressing_rates(c, angle + turn, temperature + dt * d.warming);
        temperature += dt / 6.0 * (a.warming + 2.0 * b.warming + 2.0 * d.warming + e.warming);
        sums->work += dt / 6.0 * (a.work + 2.0 * b.work + 2.0 * d.work + e.work);
        sums->heat += dt / 6.0 * (a.heat + 2.0 * b.heat + 2.0 * d.heat + e.heat);
        sums->knock += dt / 6.0 * (a.knock + 2.0 * b.knock + 2.0 * d.knock + e.knock);
    }
    return temperature;
}

static void ignite(
    const charge_t *c, double pressure, double temperature, double volume, const sums_t *sums, double *state)
{
    double cp = cp_of(c, temperature), enthalpy = enthalpy_of(c, temperature);
    double x = (enthalpy - c->h_middle_j_kg) / c->h_half_j_kg;
    double y = (log(pressure) - c->lnp_middle) / c->lnp_half;
    double pv = surface_of(c->pv_surface, c->surface_rows, c->surface_columns, x, y).value;
    double radius = c->spark_radius_m;
    double burned = 4.0 / 3.0 * M_PI * radius * radius * radius * pressure / pv;
    double excess = burned * (pv / pressure - c->gas_constant_j_kgk * temperature / pressure) / volume;
    double gamma = cp / (cp - c->gas_constant_j_kgk);
    state[PRESSURE] = pressure * (1.0 + gamma * excess);
    state[UNBURNED_K] = temperature * (1.0 + (gamma - 1.0) * excess);
    state[BURNED_ENTHALPY] = enthalpy_of(c, state[UNBURNED_K]) * burned;
    state[BURNED] = state[ENTRAINED] = burned;
    state[WORK] = sums->work;
    state[HEAT] = sums->heat;
    state[KNOCK] = sums->knock;
}

static void move(const double *state, const double *rates, double dt, double *moved)
{
    for (int i = 0; i < STATES; i++)
        moved[i] = state[i] + dt * rates[i];
}

static double hermite_share(double level, double y0, double y1, double slope0, double slope1)
{
    double low = 0.0, high = 1.0;
    for (int i = 0; i < 30; i++) {
        double t = 0.5 * (low + high);
        double value = y0 + t * slope0 + t * t * (3.0 * (y1 - y0) - 2.0 * slope0 - slope1)
            + t * t * t * (2.0 * (y0 - y1) + slope0 + slope1);
        if (value < level)
            low = t;
        else
            high = t;
    }
    return 0.5 * (low + high);
}

static double hermite_peak(double y0, double y1, double slope0, double slope1, double *top)
{
    double low = 0.0, high = 1.0;
    double square = 3.0 * (y1 - y0) - 2.0 * slope0 - slope1, cube = 2.0 * (y0 - y1) + slope0 + slope1;
    for (int i = 0; i < 30; i++) {
        double t = 0.5 * (low + high);
        if (slope0 + t * (2.0 * square + t * 3.0 * cube) > 0.0)
            low = t;
        else
            high = t;
    }
    double t = 0.5 * (low + high);
    *top = y0 + t * (slope0 + t * (square + t * cube));
    return t;
}

static void burn(
    const charge_t *c, double spark_angle, double temperature, const sums_t *sums, double step, double *out)
{
    static const double levels[3] = {0.1, 0.5, 0.9};
    const double degree = 180.0 / M_PI;
    double by_angle, volume = volume_of(c, spark_angle, &by_angle);
    double spark_pa = c->mass_kg * c->gas_constant_j_kgk * temperature / volume;
    double state[STATES], before[STATES], rates[STATES], before_rates[STATES];
    double half[STATES], again[STATES], last[STATES], moved[STATES];
    ignite(c, spark_pa, temperature, volume, sums, state);
    double ln_spark_pvn = log(spark_pa) + c->motored_exponent * log(volume);
    out[3] = out[4] = out[5] = NAN;
    out[6] = state[PRESSURE];
    out[7] = spark_angle * degree;
    out[11] = spark_pa;
    out[12] = temperature;
    double angle = spark_angle, turn = 0.0, dt;
    for (int i = 0; i < STATES; i++)
        before[i] = before_rates[i] = state[i];
    int reached = 0;
    for (;;) {
        burning_rates(c, ln_spark_pvn, angle, state, rates);
        dt = turn / c->speed_rad_s;
        while (reached < 3 && state[BURNED] >= levels[reached] * c->mass_kg) {
            double part = hermite_share(levels[reached] * c->mass_kg, before[BURNED], state[BURNED],
                                        dt * before_rates[BURNED], dt * rates[BURNED]);
            out[3 + reached] = (angle - (1.0 - part) * turn) * degree;
            reached++;
        }
        if (turn > 0.0 && before_rates[PRESSURE] > 0.0 && rates[PRESSURE] <= 0.0) {
            double top, part = hermite_peak(before[PRESSURE], state[PRESSURE], dt * before_rates[PRESSURE],
                                            dt * rates[PRESSURE], &top);
            if (top > out[6]) {
                out[6] = top;
                out[7] = (angle - (1.0 - part) * turn) * degree;
            }
        }
        double left = c->exhaust_opens_rad - angle;
        if (left <= 1e-9)
            break;
        turn = state[BURNED] < c->tail_share * c->mass_kg ? step : 3.0 * step;
        double two_burn_ups = 2.0 * c->speed_rad_s * (state[ENTRAINED] - state[BURNED]);
        if (rates[BURNED] * turn > two_burn_ups && two_burn_ups > 0.0)
            turn = two_burn_ups / rates[BURNED];
        double most_growth = c->growth_in_a_step * c->speed_rad_s * state[ENTRAINED];
        if (rates[ENTRAINED] * turn > most_growth)
            turn = most_growth / rates[ENTRAINED];
        double room = fmax(0.5 * (c->mass_kg - state[ENTRAINED]), c->least_room * c->mass_kg);
        if (rates[ENTRAINED] * turn > room * c->speed_rad_s)
            turn = room * c->speed_rad_s / rates[ENTRAINED];
        if (left < 1.5 * turn)
            turn = left <= turn ? left : 0.5 * left;
        dt = turn / c->speed_rad_s;
        move(state, rates, 0.5 * dt, moved);
        burning_rates(c, ln_spark_pvn, angle + 0.5 * turn, moved, half);
        move(state, half, 0.5 * dt, moved);
        burning_rates(c, ln_spark_pvn, angle + 0.5 * turn, moved, again);
        move(state, again, dt, moved);
        burning_rates(c, ln_spark_pvn, angle + turn, moved, last);
        for (int i = 0; i < STATES; i++) {
            before[i] = state[i];
            before_rates[i] = rates[i];
            state[i] += dt / 6.0 * rates[i] + dt / 3.0 * half[i] + dt / 3.0 * again[i] + dt / 6.0 * last[i];
        }
        angle += turn;
    }
    volume = volume_of(c, angle, &by_angle);
    double start = c->mass_kg * (enthalpy_of(c, c->closing_k) - c->gas_constant_j_kgk * c->closing_k);
    double end = (c->mass_kg - state[BURNED]) * enthalpy_of(c, state[UNBURNED_K]) + state[BURNED_ENTHALPY]
        - state[PRESSURE] * volume;
    out[0] = state[WORK];
    out[1] = state[HEAT];
    out[2] = state[KNOCK];
    out[8] = state[BURNED] / c->mass_kg;
    out[9] = state[PRESSURE];
    double x = (state[BURNED_ENTHALPY] / state[BURNED] - c->h_middle_j_kg) / c->h_half_j_kg;
    double y = (log(state[PRESSURE]) - c->lnp_middle) / c->lnp_half;
    double burned_k = surface_value_of(c->temperature_surface, c->surface_rows, c->surface_columns, x, y);
    out[10] = state[UNBURNED_K] + state[BURNED] / c->mass_kg * (burned_k - state[UNBURNED_K]);
    out[13] = end - start + state[WORK] + state[HEAT];
}

/* One charge at each advance, compressed only once; rows of `out` follow `advance_deg`, which falls. */
void run_hook(const charge_t *c, const double *advance_deg, long advances, double step_deg, double *out)
{
    double step = step_deg * M_PI / 180.0;
    double angle = c->intake_closes_rad, temperature = c->closing_k;
    sums_t sums = {0.0, 0.0, 0.0};
    for (long i = 0; i < advances; i++) {
        double spark_angle = -advance_deg[i] * M_PI / 180.0;
        temperature = compress(c, angle, spark_angle, temperature, &sums, 4.0 * step);
        angle = spark_angle;
        burn(c, angle, temperature, &sums, step, out + RESULTS * i);
    }
}
