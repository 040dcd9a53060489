/* Chains of several kinds, healthy readings at each point, and changes to those that the input's bytes choose: whatever
 * a measuring could say, the walk judges; every report, a record and a comparison can be made of it. No byte: healthy.
 */
#include "fuzz.h"

enum { POINTS_MAX = 16, RAILS_MAX = 3, LINES = 6, RESPONSE_LINES = 24, CHANGES_MAX = 40 };

static const char *const chains[] = {
    "[chain]\nstimulus = sine 1 kHz 100 mV\nmains = 50 Hz\n[instrument]\naccuracy = 3 %\n[point J1]\n[point C1]\nstage "
    "= "
    "coupling c=1u load=100k\n[point U1]\nstage = noninverting rf=47k rg=4k7\nthd = < 1 %\n[point R]\nstage = divider "
    "top=10k bottom=4k7\n[point T1]\nstage = amp blocks-dc\ngain = -20 dB ± 3 dB\nreach = awkward\n[point U2]\nstage = "
    "noninverting rf=100k rg=4k7\ndc = 7.5 V ± 10 %\nnoise = < 5 mV\nhum = < 5 mV\n[point C9]\nstage = coupling c=10u "
    "load=50k\ndc = 0 V ± 100 mV\n[point U3]\nstage = inverting rf=100k rin=47k\n[point DRY]\nafter = U1\nstage = "
    "follower\n[rail +15]\ndc = 15 V ± 5 %\nripple = < 10 mV\n[rail -15]\ndc = -15 V ± 5 %\n",
    "[chain]\nstimulus = sine 1 kHz\n[point IN]\n[point V1]\nafter = IN\ngroup = v\nstage = follower\n[point "
    "V2]\nafter = "
    "IN\ngroup = v\nstage = follower\n[point V3]\nafter = IN\ngroup = v\nstage = follower\n[point V4]\nafter = "
    "IN\ngroup "
    "= v\nstage = follower\n",
    "[chain]\nstimulus = two-tone 60 Hz 7 kHz 200 mV\n[point A]\n[point B]\nstage = lowpass r=10k c=2n2\n[point "
    "C]\nstage = amp\ngain = 20 dB\nthd = < 1 %\n[point D]\nstage = wire\n[rail plus]\ndc = 9 V ± 5 %\n",
    "[chain]\nstimulus = noise 100 mV\n[point A]\n[point B]\nstage = inverting rf=10k rin=10k\n[point C]\nstage = "
    "coupling c=10n load=1M\n[point D]\nstage = follower\n",
    "[chain]\nstimulus = sweep\nsweep = sweep.wav\n[point A]\n[point B]\nstage = lowpass r=10k "
    "c=1n\n[point C]\nstage = amp\ngain = 6 dB\n[point D]\nstage = coupling c=1u load=10k\n",
    "[chain]\nstimulus = none\nmains = 60 Hz\n[point A]\nnoise = < 1 mV\n[point B]\nstage = amp\ngain = 40 dB\nhum = < "
    "1 "
    "mV\n[point C]\nstage = wire\nreading = 4.2 V ± 1 %\n",
    "[point A]\n[point B]\n[point C]\nstage = amp\n[point D]\nstage = wire\n",
};

typedef struct bytes {
    const uint8_t *at, *end;
} bytes;

static size_t take(bytes *of, size_t count) {
    return of->at < of->end ? *of->at++ % count : 0;
}

typedef struct table {
    gw_chain *chain;
    gw_readings readings[POINTS_MAX + RAILS_MAX], references[POINTS_MAX];
    gw_harmonic harmonics[POINTS_MAX + RAILS_MAX][LINES];
    gw_tone tones[POINTS_MAX + RAILS_MAX][LINES];
    gw_event events[POINTS_MAX + RAILS_MAX][LINES];
    gw_response responses[POINTS_MAX];
    gw_response_line lines[POINTS_MAX][RESPONSE_LINES];
    gw_pair pairs[POINTS_MAX];
    gw_probe points[POINTS_MAX], rails[RAILS_MAX];
} table;

/* ---- healthy ------------------------------------------------------------------------------------- */

static void say(gw_readings *r, gw_reading_key key, double value, double random, double scale) {
    double size = fabs(value);
    r->values[key] = (gw_reading){.state = GW_READING_VALUE,
                                  .value = value,
                                  .u_random = random,
                                  .u_scale = scale * size,
                                  .u95 = 2 * sqrt(random * random + scale * scale * size * size)};
}

static void say_below(gw_readings *r, gw_reading_key key, double bound) {
    r->values[key] = (gw_reading){.state = GW_READING_BELOW, .value = bound, .why = "limited by the capture"};
}

static void say_none(gw_readings *r, gw_reading_key key) {
    r->values[key] = (gw_reading){.why = "no signal"};
}

static gw_signal signal_of(gw_shape shape) {
    static const gw_signal signals[] = {
        [GW_SHAPE_UNKNOWN] = GW_SIGNAL_SINE,      [GW_SHAPE_SINE] = GW_SIGNAL_SINE,
        [GW_SHAPE_PERIODIC] = GW_SIGNAL_PERIODIC, [GW_SHAPE_TWO_TONE] = GW_SIGNAL_TWO_TONE,
        [GW_SHAPE_NOISE] = GW_SIGNAL_NOISE,       [GW_SHAPE_NONE] = GW_SIGNAL_DC,
        [GW_SHAPE_SWEEP] = GW_SIGNAL_SWEEP,
    };
    return signals[shape];
}

static void fill(gw_readings *r, const gw_stimulus *stimulus, double level_v, double dc_v) {
    double step = level_v / 100;
    *r = (gw_readings){
        .source =
            {.file = "fuzz.csv", .unit = "V", .step = step, .rate_hz = 250e3, .duration_s = 0.1, .samples = 25000},
        .signal = signal_of(stimulus->shape),
        .band_low_hz = 20,
        .band_high_hz = 20e3,
        .noise_floor_v = step / 3};
    r->clues = (gw_clues){.cycles = 100, .codes = 280, .mains_hz = 50};
    for (int key = 0; key < GW_READING_COUNT; key++)
        say_none(r, (gw_reading_key)key);
    say(r, GW_AC_RMS, level_v, 2e-4 * level_v, 0.017);
    say(r, GW_PEAK_TO_PEAK, 2.83 * level_v, step, 0.017);
    say(r, GW_PEAK_HIGH, dc_v + 1.415 * level_v, step, 0.017);
    say(r, GW_PEAK_LOW, dc_v - 1.415 * level_v, step, 0.017);
    say(r, GW_DC, dc_v, step / 20, 0.017);
    say_below(r, GW_NOISE, step / 2);
    say_below(r, GW_HUM, step / 4);
    say(r, GW_CLIP_HIGH, 0, 0, 0);
    say(r, GW_CLIP_LOW, 0, 0, 0);
    say(r, GW_DROPOUTS, 0, 0, 0);
    if (r->signal == GW_SIGNAL_DC)
        return;
    say(r, GW_LEVEL, level_v, 2e-4 * level_v, 0.017);
    if (stimulus->shape != GW_SHAPE_NOISE && stimulus->shape != GW_SHAPE_SWEEP)
        say(r, GW_FREQUENCY, stimulus->frequency_hz > 0 ? stimulus->frequency_hz : 1000, 0.01, 0);
    if (r->signal == GW_SIGNAL_SINE)
        say_below(r, GW_THD, 0.003);
}

static double gain_to(const gw_chain *chain, size_t i) {
    if (!chain->points[i].has_stage || chain->points[i].stage.kind->gain == NULL)
        return 1;
    double frequency = chain->stimulus.frequency_hz > 0 ? chain->stimulus.frequency_hz : 1000;
    double size = gw_stage_gain(&chain->points[i].stage, frequency).magnitude;
    return size > 0 ? size : 1;
}

static void fill_lines(table *t, size_t i, double level_v) {
    gw_response *to = &t->responses[i];
    *to = (gw_response){.lines = t->lines[i],
                        .count = RESPONSE_LINES,
                        .middle_hz = 1000,
                        .middle_gain = level_v * 10,
                        .stimulus_rms = 0.1};
    for (size_t k = 0; k < RESPONSE_LINES; k++)
        to->lines[k] = (gw_response_line){20 * pow(1000, (double)k / (RESPONSE_LINES - 1)), level_v * 10, 1, 1e-3};
}

static void set_table(table *t) {
    double levels[POINTS_MAX];
    const gw_chain *chain = t->chain;
    for (size_t i = 0; i < chain->point_count; i++) {
        int after = chain->points[i].after;
        levels[i] = after < 0 || after >= (int)i ? 0.1 : levels[after] * gain_to(chain, i);
        fill(&t->readings[i], &chain->stimulus, levels[i], 0);
        t->points[i] = (gw_probe){.state = GW_PROBE_READ, .readings = &t->readings[i]};
        fill_lines(t, i, levels[i]);
        if (chain->stimulus.shape == GW_SHAPE_SWEEP)
            t->points[i].response = &t->responses[i];
    }
    for (size_t i = 0; i < chain->rail_count; i++) {
        gw_readings *r = &t->readings[POINTS_MAX + i];
        fill(r, &(gw_stimulus){.shape = GW_SHAPE_NONE}, 1e-3, chain->rails[i].name[0] == '-' ? -15 : 15);
        t->rails[i] = (gw_probe){.state = GW_PROBE_READ, .readings = r};
    }
}

/* ---- changes ------------------------------------------------------------------------------------- */

static const double factors[] = {1,   0.999, 1.001, 0.97, 1.03, 0.9, 1.1,  0.7, 1.4,  0.5, 2,  0.3,
                                 0.1, 10,    0.03,  30,   1e-2, 100, 1e-3, 1e3, 1e-6, 0,   -1, -0.5};
static const double volts[] = {0, 1e-4, -1e-4, 1e-3, 0.01, -0.01, 0.1, -0.1, 1, -1, 4.5, 7.5, 9, -9, 14, -14, 100, 400};

static double factor(bytes *from) {
    return factors[take(from, sizeof factors / sizeof *factors)];
}

static double volt(bytes *from) {
    return volts[take(from, sizeof volts / sizeof *volts)];
}

static void change_value(gw_readings *r, bytes *from) {
    gw_reading_key key = (gw_reading_key)take(from, GW_READING_COUNT);
    gw_reading *reading = &r->values[key];
    double value = reading->value;
    switch (take(from, 6)) {
    case 0:
        say(r, key, value * factor(from), reading->u_random, 0.017);
        break;
    case 1:
        say(r, key, volt(from), fabs(volt(from)) * 0.01, 0.017);
        break;
    case 2:
        say_below(r, key, fabs(volt(from)));
        break;
    case 3:
        say_none(r, key);
        break;
    case 4: /* less certain */
        say(r, key, value, fabs(value * factor(from)), 0.017);
        break;
    default:
        say(r, key, value + volt(from), reading->u_random, 0.017);
    }
}

static void change_clues(gw_clues *c, bytes *from) {
    bool *const flags[] = {&c->crossover,   &c->slew_limited, &c->too_short,      &c->too_coarse,
                           &c->overloaded,  &c->gappy,        &c->high.clipped,   &c->high.recorder,
                           &c->low.clipped, &c->low.recorder, &c->dc_exactly_zero};
    double *const figures[] = {&c->high.share,    &c->low.share,  &c->hum_mains_v,  &c->hum_twice_v, &c->hum_rest_v,
                               &c->crackle_count, &c->step_count, &c->imd_second,   &c->imd_third,   &c->wobble_hz,
                               &c->wobble_depth,  &c->cycles,     &c->high.level_v, &c->low.level_v, &c->mains_hz};
    static const double sizes[] = {0, 1e-3, 0.01, 0.05, 0.2, 0.5, 1, 2, 5, 50, 60, 1000};
    if (take(from, 2) == 0) {
        *flags[take(from, sizeof flags / sizeof *flags)] ^= true;
        return;
    }
    double *figure = figures[take(from, sizeof figures / sizeof *figures)];
    *figure = sizes[take(from, sizeof sizes / sizeof *sizes)];
}

static void change_lines(table *t, size_t i, bytes *from) {
    gw_readings *r = &t->readings[i];
    double level = fabs(r->values[GW_AC_RMS].value), hz = fabs(r->values[GW_FREQUENCY].value) + 1;
    size_t count = take(from, LINES);
    r->harmonics = t->harmonics[i];
    r->tones = t->tones[i];
    r->events = t->events[i];
    switch (take(from, 3)) {
    case 0:
        r->harmonic_count = count;
        for (size_t k = 0; k < count; k++)
            r->harmonics[k] = (gw_harmonic){.order = (int)k + 1,
                                            .frequency_hz = hz * (double)(k + 1),
                                            .rms = level * fabs(factor(from)),
                                            .u95 = level * 1e-3,
                                            .u_random = level * 5e-4,
                                            .phase_rad = volt(from) / 200,
                                            .resolved = take(from, 2) == 0};
        break;
    case 1:
        r->tone_count = count;
        for (size_t k = 0; k < count; k++)
            r->tones[k] = (gw_tone){.frequency_hz = 60 + 1000 * fabs(volt(from)),
                                    .rms = level * fabs(factor(from)),
                                    .u95 = level * 1e-3,
                                    .kind = (gw_tone_kind)take(from, 4),
                                    .order = (int)take(from, 5)};
        break;
    default:
        r->event_count = count;
        for (size_t k = 0; k < count; k++)
            r->events[k] = (gw_event){.kind = (gw_event_kind)take(from, 3),
                                      .start_s = 0.01 * (double)k,
                                      .length_s = 1e-3,
                                      .size_v = fabs(volt(from))};
    }
}

static void change_probe(table *t, size_t i, bytes *from) {
    gw_probe *probe = &t->points[i];
    switch (take(from, 6)) {
    case 0:
        *probe = (gw_probe){.state = GW_PROBE_NONE};
        break;
    case 1:
        *probe = (gw_probe){.state = GW_PROBE_UNREADABLE, .why = "no such file"};
        break;
    case 2:
        probe->same_file = "same.csv";
        break;
    case 3:
        fill(&t->references[i], &t->chain->stimulus, 0.1 * fabs(factor(from)), 0);
        probe->reference = &t->references[i];
        break;
    case 4:
        t->pairs[i] = (gw_pair){.valid = take(from, 4) != 0,
                                .gain = fabs(factor(from)),
                                .gain_u95 = 0.01,
                                .polarity = (int)take(from, 3) - 1,
                                .coherence = 0.9,
                                .frequency_hz = 1000 * fabs(volt(from))};
        probe->pair = &t->pairs[i];
        break;
    default: {
        gw_response *response = &t->responses[i];
        size_t first = take(from, RESPONSE_LINES), last = take(from, RESPONSE_LINES);
        double by = fabs(factor(from)) + 1e-9;
        for (size_t k = first; k <= last; k++)
            response->lines[k].gain *= by;
        response->count = take(from, 8) == 7 ? take(from, RESPONSE_LINES) : response->count;
        response->low_hz = take(from, 3) == 2 ? 100 : 0;
        response->high_hz = take(from, 3) == 2 ? 5000 : 0;
    }
    }
}

static void change(table *t, bytes *from) {
    size_t points = t->chain->point_count, i = take(from, points + t->chain->rail_count);
    bool is_rail = i >= points;
    gw_readings *r = &t->readings[is_rail ? i - points + POINTS_MAX : i];
    static const double levels[] = {0, 1e-4, 1e-3, 0.01, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10};
    switch (take(from, 8)) {
    case 0: /* another level */
        fill(r, &t->chain->stimulus, levels[take(from, 12)], volt(from));
        break;
    case 1: /* another signal */
        fill(r, &(gw_stimulus){.shape = (gw_shape)take(from, 7), .frequency_hz = 1 + fabs(volt(from)) * 50},
             levels[take(from, 12)], r->values[GW_DC].value);
        break;
    case 2:
        change_clues(&r->clues, from);
        break;
    case 3:
        change_lines(t, is_rail ? i - points + POINTS_MAX : i, from);
        break;
    case 4:
        if (!is_rail)
            change_probe(t, i, from);
        break;
    case 5:
        r->dc_hidden = take(from, 2) == 0;
        r->source.wav = take(from, 2) == 0;
        r->source.unit = take(from, 4) == 3 ? "FS" : "V";
        r->noise_floor_v = fabs(volt(from));
        r->source.step = fabs(volt(from));
        break;
    case 6: /* DC, and all that goes with it */
        fill(r, &t->chain->stimulus, fabs(r->values[GW_AC_RMS].value), volt(from));
        break;
    default:
        change_value(r, from);
    }
}

/* ---- what must be so ----------------------------------------------------------------------------- */

static void must_index(int index, size_t count) {
    MUST(index >= -1 && (index < 0 || (size_t)index < count));
}

static void check(const gw_walk *walk) {
    const gw_verdict *verdict = &walk->verdict;
    MUST(verdict->summary != NULL && *verdict->summary != '\0');
    must_index(verdict->finding, walk->finding_count);
    must_index(verdict->from, walk->point_count);
    must_index(verdict->to, walk->point_count);
    must_index(verdict->point, walk->point_count);
    must_index(verdict->rail, walk->rail_count);
    MUST(verdict->status != GW_VERDICT_FAULT || verdict->finding >= 0);
    MUST(verdict->status != GW_VERDICT_FAULT || walk->findings[verdict->finding].status == GW_OFF);
    for (size_t i = 0; i < walk->finding_count; i++) {
        const gw_finding *finding = &walk->findings[i];
        must_index(finding->from, walk->point_count);
        must_index(finding->to, walk->point_count);
        must_index(finding->point, walk->point_count);
        must_index(finding->rail, walk->rail_count);
        must_index(finding->follows, walk->finding_count);
        MUST(finding->follows != (int)i && finding->evidence != NULL);
        MUST(verdict->status != GW_VERDICT_CLEAR || finding->status != GW_OFF);
    }
    for (size_t i = 0; i < walk->stage_count; i++)
        MUST(!walk->stages[i].gain.has_value || isfinite(walk->stages[i].gain.value));
    MUST(isfinite(walk->probes_expected) && walk->probes_expected >= 0);
    MUST(gw_walk_exit(walk) >= 0 && gw_walk_exit(walk) <= 3);
}

/* The healthy one before, this one after; by way of a record. */
static void keep_and_compare(const gw_walk *before, const gw_walk *after) {
    gw_record_options options = {.program = "fuzz"};
    gw_report_options how = {.program = "fuzz"};
    gw_text text = {0}, told = {0};
    gw_error error = {0};
    gw_record *record = NULL;
    gw_comparison *comparison = NULL;
    MUST(gw_record_write(&after, 1, &options, &text, &error));
    MUST(gw_record_parse(text.data, text.length, NULL, &record, &error));
    MUST(gw_compare_run(before, &record->walks[0], &comparison, &error));
    const gw_comparison *one[] = {comparison};
    MUST(gw_report_compare_text(one, 1, &how, &told, &error));
    MUST(gw_report_compare_html(one, 1, &how, &told, &error));
    gw_comparison_free(comparison);
    gw_record_free(record);
    gw_text_free(&text);
    gw_text_free(&told);
}

int LLVMFuzzerTestOneInput(const uint8_t *input, size_t length) {
    static table t;
    bytes from = {input, input + length};
    gw_error error = {0};
    gw_walk *healthy = NULL, *walk = NULL;
    const char *text = chains[take(&from, sizeof chains / sizeof *chains)];
    MUST(gw_chain_parse(text, strlen(text), "/nowhere/fuzz.ini", &t.chain, &error));
    MUST(t.chain->point_count <= POINTS_MAX && t.chain->rail_count <= RAILS_MAX);
    set_table(&t);
    MUST(gw_walk_run(t.chain, t.points, t.rails, &healthy, &error));
    for (int i = 0; i < CHANGES_MAX && from.at < from.end; i++)
        change(&t, &from);
    MUST(gw_walk_run(t.chain, t.points, t.rails, &walk, &error));
    check(walk);
    if (length % 4 == 0) { /* it takes longer than the judging */
        tell_walk(walk);
        keep_and_compare(healthy, walk);
    }
    gw_walk_free(walk);
    gw_walk_free(healthy);
    gw_chain_free(t.chain);
    t.chain = NULL;
    return 0;
}
