/* The floor of a sound file: decoding alone, to nowhere. Built and run by scripts/bench. */
#include <sndfile.h>
#include <stdio.h>

enum { FRAMES = 4096, CHANNELS_MAX = 16 };

int main(int argc, char **argv) {
    static double block[FRAMES * CHANNELS_MAX];
    double sum = 0; /* so that nothing is left out as unused */
    for (int i = 1; i < argc; i++) {
        SF_INFO info = {0};
        SNDFILE *file = sf_open(argv[i], SFM_READ, &info);
        if (file == NULL || info.channels > CHANNELS_MAX)
            return 2;
        for (sf_count_t got; (got = sf_readf_double(file, block, FRAMES)) > 0;)
            sum += block[(got - 1) * info.channels];
        sf_close(file);
    }
    printf("%g\n", sum);
    return 0;
}
