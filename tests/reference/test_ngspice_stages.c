/* Every kind of stage that is a network, against ngspice's AC analysis of that network, run here and now.
 * Op-amps are voltage-controlled sources of gain 1e9; what they lack of an ideal one is below the tolerance.
 * Without ngspice the program ends with 77, which says "skipped". */
#include "assert_close.h"
#include "gainwalk/chain.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { FREQUENCIES = 4, SKIPPED = 77 };

static const double frequencies_hz[FREQUENCIES] = {1, 20, 1000, 15000};

typedef struct reference {
    const char *stage;   /* as in a chain file */
    const char *network; /* between nodes in and out; in is driven by 1 V AC from 0 ohm */
    double tolerance;    /* relative, of the magnitude; in radians, of the phase */
} reference;

/* Emitter: 1 mA from a current source, so that the transistor's own resistance is kT/q over 1 mA at SPICE's 300.15 K:
 * 25.865 ohm (Boltzmann's constant and the elementary charge: SI 2019). The audio taper has no network: its share is
 * put in by hand, a tenth at half travel. */
static const reference references[] = {
    {"noninverting rf=47k rg=4k7", "Rf out n 47k\nRg n 0 4.7k\nE1 out 0 in n 1e9\n", 1e-7},
    {"noninverting rf=1M rg=2k2", "Rf out n 1meg\nRg n 0 2.2k\nE1 out 0 in n 1e9\n", 1e-6},
    {"inverting rf=100k rin=22k", "Ri in n 22k\nRf n out 100k\nE1 out 0 0 n 1e9\n", 1e-7},
    {"follower", "E1 out 0 in out 1e9\n", 1e-7},
    {"divider top=82k bottom=10k", "R1 in out 82k\nR2 out 0 10k\n", 1e-9},
    {"divider top=82k bottom=10k load=4k7", "R1 in out 82k\nR2 out 0 10k\nR3 out 0 4.7k\n", 1e-9},
    {"pot position=25 % value=100k load=47k", "R1 in out 75k\nR2 out 0 25k\nR3 out 0 47k\n", 1e-9},
    {"pot position=50 % taper=audio value=50k load=10k", "R1 in out 45k\nR2 out 0 5k\nR3 out 0 10k\n", 1e-9},
    {"coupling c=100n load=47k", "C1 in out 100n\nR1 out 0 47k\n", 1e-9},
    {"coupling c=2u2 load=10k source=4k7", "R1 in a 4.7k\nC1 a out 2.2u\nR2 out 0 10k\n", 1e-9},
    {"lowpass r=10k c=2n2", "R1 in out 10k\nC1 out 0 2.2n\n", 1e-9},
    {"highpass r=10k c=2n2", "C1 in out 2.2n\nR1 out 0 10k\n", 1e-9},
    {"transformer ratio=0.1", "R1 in p 1u\nL1 p 0 100k\nL2 out 0 1k\nK1 L1 L2 1\nR2 out 0 1e9\n", 1e-6},
    {"transformer ratio=12", "R1 in p 1u\nL1 p 0 1k\nL2 out 0 144k\nK1 L1 L2 1\nR2 out 0 1e12\n", 1e-6},
    {"wire", "R1 in out 1m\nR2 out 0 1e9\n", 1e-9},
    {"emitter rc=4k7 re=495.865",
     "V2 vcc 0 20\nR1 vcc out 4.7k\nQ1 out b e QX\nE1 b 0 in2 0 1\nV3 in2 in 5\nI1 e 0 1m\nR2 e x 470\nC1 x 0 10k\n"
     ".model QX NPN(BF=1e9 IS=1e-15)\n",
     2e-5},
    {"mix r=10k r=22k r=47k", "R1 in out 10k\nR2 out 0 22k\nR3 out 0 47k\n", 1e-9},
    {"mix r=10k r=22k rf=33k", "R1 in n 10k\nR2 n 0 22k\nRf n out 33k\nE1 out 0 0 n 1e9\n", 1e-7},
};

enum { REFERENCES = sizeof references / sizeof *references };

/* What ngspice said: magnitude and phase at each frequency. */
typedef struct answer {
    double magnitude[FREQUENCIES], phase_rad[FREQUENCIES];
} answer;

static void write_netlist(const char *path, const char *network) {
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fprintf(file, "* a stage\nV1 in 0 dc 0 ac 1\n%s.control\nset numdgt=14\n", network);
    for (int i = 0; i < FREQUENCIES; i++)
        fprintf(file, "ac lin 1 %d %d\nlet m = mag(v(out))\nlet p = ph(v(out))\nprint m\nprint p\n",
                (int)frequencies_hz[i], (int)frequencies_hz[i]);
    fprintf(file, "quit\n.endc\n.end\n");
    assert_int_equal(fclose(file), 0);
}

/* Lines "m = …" and "p = …". */
static void read_answer(FILE *from, answer *out) {
    char line[500];
    int magnitudes = 0, phases = 0;
    while (fgets(line, sizeof line, from) != NULL) {
        if (strncmp(line, "m = ", 4) == 0 && magnitudes < FREQUENCIES)
            out->magnitude[magnitudes++] = strtod(line + 4, NULL);
        if (strncmp(line, "p = ", 4) == 0 && phases < FREQUENCIES)
            out->phase_rad[phases++] = strtod(line + 4, NULL);
    }
    assert_int_equal(magnitudes, FREQUENCIES);
    assert_int_equal(phases, FREQUENCIES);
}

static void ask_ngspice(const char *network, answer *out) {
    char path[] = "/tmp/gainwalk-stage-XXXXXX", command[100];
    int handle = mkstemp(path);
    assert_true(handle >= 0);
    close(handle);
    write_netlist(path, network);
    snprintf(command, sizeof command, "ngspice -b %s 2>/dev/null", path);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    read_answer(pipe, out);
    pclose(pipe);
    unlink(path);
}

/* The smaller way round the circle. */
static double angle_between(double one, double other) {
    return fabs(remainder(one - other, 2 * 3.14159265358979323846));
}

static void check_reference(const reference *row) {
    char text[300];
    gw_chain *chain = NULL;
    gw_error error = {0};
    answer spice = {0};
    int length = snprintf(text, sizeof text, "[point A]\n[point B]\nstage = %s\n", row->stage);
    if (!gw_chain_parse(text, (size_t)length, "stage.ini", &chain, &error))
        fail_msg("%s: %s", row->stage, error.text);
    ask_ngspice(row->network, &spice);
    for (int i = 0; i < FREQUENCIES; i++) {
        gw_gain gain = gw_stage_gain(&chain->points[1].stage, frequencies_hz[i]);
        double apart = angle_between(gain.phase_rad, spice.phase_rad[i]);
        if (fabs(gain.magnitude - spice.magnitude[i]) > row->tolerance * spice.magnitude[i] || apart > row->tolerance)
            print_error("%s at %g Hz: %.9g, ngspice %.9g; phase apart %.3g rad\n", row->stage, frequencies_hz[i],
                        gain.magnitude, spice.magnitude[i], apart);
        assert_close(gain.magnitude, spice.magnitude[i], row->tolerance * spice.magnitude[i]);
        assert_close(apart, 0, row->tolerance);
    }
    gw_chain_free(chain);
}

static void test_networks(void **state) {
    (void)state;
    for (size_t i = 0; i < REFERENCES; i++)
        check_reference(&references[i]);
}

/* Each kind has a network above, but for `amp`, whose gain is stated. */
static void test_no_kind_is_left_out(void **state) {
    (void)state;
    for (const gw_stage_kind *kind = gw_stage_kinds; kind->name != NULL; kind++) {
        bool found = kind->gain == NULL;
        for (size_t i = 0; i < REFERENCES && !found; i++) {
            size_t length = strlen(kind->name);
            const char *stage = references[i].stage;
            found = strncmp(stage, kind->name, length) == 0 && (stage[length] == ' ' || stage[length] == '\0');
        }
        if (!found)
            fail_msg("no network for '%s'", kind->name);
    }
}

int main(void) {
    if (system("command -v ngspice >/dev/null 2>&1") != 0) {
        puts("skipped: ngspice is not installed");
        return SKIPPED;
    }
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_networks), cmocka_unit_test(test_no_kind_is_left_out)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
