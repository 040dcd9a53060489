#include "capture/words.h"

#include <ctype.h>
#include <string.h>

/* Words that may stand in one: `samplerate`, `timestep`, `voltsperdiv`. */
static const char known[] =
    " step increment incr inc interval spacing delta sample samples sampling sampled period time times seconds second "
    "sec "
    "per between point points value values rate frequency freq start begin first origin count slots length depth rows "
    "unit units volts volt voltage division divisions div box square scale vertical vert horizontal horiz hor source "
    "input channel trace probe attenuation coupling memory record data number of no trigger offset position zero level "
    "x y t axis pos stamp display average wave waveform name label peak detect envelope min max size total acquisition "
    "acq ";

static bool is_in(const char *list, const char *word, size_t length) {
    for (const char *at = list, *end; *at != '\0'; at = end + (*end == ' ')) {
        for (end = at; *end != '\0' && *end != ' ';)
            end++;
        if ((size_t)(end - at) == length && memcmp(at, word, length) == 0)
            return true;
    }
    return false;
}

static void add(gw_words *words, size_t *used, const char *text, size_t length) {
    if (words->count == GW_WORDS_MAX || *used + length + 1 > sizeof words->text)
        return;
    words->at[words->count++] = *used;
    memcpy(words->text + *used, text, length);
    words->text[*used + length] = '\0';
    *used += length + 1;
}

/* The longest known words that fill `text` together; 0 where they don't. `lengths` gets theirs. */
static size_t segment(const char *text, size_t length, size_t *lengths) {
    size_t best[64] = {0}, from[64] = {0}; /* words that fill the first i letters, and where the last begins */
    if (length >= 64)
        return 0;
    for (size_t end = 1; end <= length; end++)
        for (size_t start = 0; start < end; start++)
            if ((start == 0 || best[start] > 0) && is_in(known, text + start, end - start) &&
                (best[end] == 0 || best[start] + 1 < best[end])) {
                best[end] = best[start] + 1;
                from[end] = start;
            }
    size_t count = best[length];
    if (count > GW_WORDS_MAX)
        return 0;
    for (size_t end = length, i = count; i-- > 0; end = from[end])
        lengths[i] = end - from[end];
    return count;
}

static void add_token(gw_words *words, size_t *used, const char *text, size_t length) {
    size_t lengths[GW_WORDS_MAX], count = length > 0 ? segment(text, length, lengths) : 0;
    for (size_t i = 0; i < count; i++) {
        add(words, used, text, lengths[i]);
        text += lengths[i];
    }
    if (count == 0 && length > 0)
        add(words, used, text, length);
}

static bool is_letter(char character) {
    return isalnum((unsigned char)character) || (unsigned char)character >= 0x80 || character == '#';
}

/* Between `sampleRate`, and before the last capital of `XIncrement`. */
static bool is_hump(const char *at, const char *start) {
    bool upper = isupper((unsigned char)*at), before = at > start && isupper((unsigned char)at[-1]);
    bool lower_before = at > start && islower((unsigned char)at[-1]);
    return upper && (lower_before || (before && islower((unsigned char)at[1])));
}

void gw_words_split(const char *text, gw_words *words) {
    size_t used = 0, length = 0;
    char token[64];
    words->count = 0;
    for (const char *at = text;; at++) {
        if ((!is_letter(*at) || is_hump(at, text)) && length > 0) {
            add_token(words, &used, token, length);
            length = 0;
        }
        if (*at == '\0')
            break;
        if (*at == '/')
            add(words, &used, "per", 3);
        else if (is_letter(*at) && length + 1 < sizeof token)
            token[length++] = (char)tolower((unsigned char)*at);
    }
}

const char *gw_words_item(const gw_words *words, size_t index) {
    return index < words->count ? words->text + words->at[index] : "";
}

/* As gw_words_have, also for words with a number behind them. */
static bool have_numbered(const gw_words *words, const char *list) {
    for (size_t i = 0; i < words->count; i++) {
        const char *word = gw_words_item(words, i);
        size_t length = strlen(word);
        while (length > 1 && isdigit((unsigned char)word[length - 1]))
            length--;
        if (is_in(list, word, length))
            return true;
    }
    return false;
}

bool gw_words_have(const gw_words *words, const char *list) {
    for (size_t i = 0; i < words->count; i++)
        if (is_in(list, gw_words_item(words, i), strlen(gw_words_item(words, i))))
            return true;
    return false;
}

/* ---- columns ------------------------------------------------------------------------------------ */

static const char time_words[] = "time t zeit temps tiempo tempo horizontal horiz stamp timestamp second seconds xpos "
                                 "xaxis elapsed uhrzeit heure hora clock tijd tid datetime";

bool gw_words_name_time(const gw_words *words) {
    if (gw_words_have(words, "per unit units division div trigger rate envelope"))
        return false;
    const char *first = gw_words_item(words, 0);
    bool x = strcmp(first, "x") == 0 && (words->count == 1 || gw_words_have(words, "axis pos position"));
    size_t letters = strlen(first);
    while (letters > 3 && isdigit((unsigned char)first[letters - 1]))
        letters--;
    return x || (words->count > 0 && is_in(time_words, first, letters)) ||
           (words->count > 1 && gw_words_have(words, "time zeit stamp timestamp"));
}

bool gw_words_name_index(const gw_words *words) {
    return words->count == 0 || (words->count <= 2 && gw_words_have(words, "nr no num number index idx sample samples "
                                                                           "point points n # row rows seq sequence "
                                                                           "record position count i"));
}

bool gw_words_name_envelope(const gw_words *words) {
    return have_numbered(words, "envelope env min max minimum maximum peakdetect mini maxi") ||
           (gw_words_have(words, "peak") && gw_words_have(words, "detect"));
}

bool gw_words_name_code(const gw_words *words) {
    return have_numbered(words, "code codes raw count counts adc lsb");
}

bool gw_words_name_logic(const gw_words *words) {
    return have_numbered(words, "binary logic digital bool");
}

bool gw_words_name_derived(const gw_words *words) {
    return have_numbered(words, "slope gradient derivative difference diff derived");
}

bool gw_words_name_frequency(const gw_words *words) {
    return gw_words_have(words, "frequency freq frequenz frequence fr\u00e9quence fr\u00c9quence frecuencia frequenza "
                                "frequentie frekvens hz khz mhz");
}

bool gw_words_name_place(const gw_words *words) {
    return gw_words_name_time(words) || gw_words_have(words, "position pos place x index phase angle sample point");
}

/* ---- preamble keys ------------------------------------------------------------------------------ */

static bool concerns_volts(const gw_words *words) {
    return gw_words_have(words, "volts volt voltage v mv y vertical vert vres amplitude");
}

static bool concerns_screen(const gw_words *words) {
    return gw_words_have(words, "division divisions div divs box boxes square squares grid scale");
}

bool gw_words_name_interval(const gw_words *words) {
    if (concerns_volts(words) || concerns_screen(words) ||
        gw_words_have(words, "trigger trig frequency freq f delay holdoff level probe average averages count number "
                             "unit units update refresh burst segment sweep frame phase rate"))
        return false;
    bool samples = gw_words_have(words, "sample samples sampling sampled");
    return gw_words_have(words, "step increment incr inc interval spacing delta dx dt xincr xinc") ||
           (samples && gw_words_have(words, "period time interval step")) ||
           (gw_words_have(words, "time seconds second sec") && gw_words_have(words, "per between") &&
            (samples || gw_words_have(words, "point points value values")));
}

bool gw_words_name_rate(const gw_words *words) {
    if (concerns_volts(words) || concerns_screen(words) ||
        gw_words_have(words, "refresh frame baud bit bits update slew trigger trig unit units"))
        return false;
    bool samples = gw_words_have(words, "sample samples sampling sampled");
    return gw_words_have(words, "rate samplerate fs sps") || (samples && gw_words_have(words, "frequency freq")) ||
           (gw_words_have(words, "samples points values") && gw_words_have(words, "per") &&
            gw_words_have(words, "second sec s"));
}

bool gw_words_name_start(const gw_words *words) {
    if (concerns_volts(words) || concerns_screen(words) ||
        gw_words_have(words, "trigger trig level date frequency freq stop channel unit units phase"))
        return false;
    bool rows = gw_words_have(words, "point points sample samples row rows value values record") &&
                !gw_words_have(words, "time t x");
    return !rows && gw_words_have(words, "start begin first x0 origin xorigin xstart t0");
}

bool gw_words_name_count(const gw_words *words) {
    if (concerns_volts(words) || concerns_screen(words) || gw_words_name_interval(words) || gw_words_name_rate(words) ||
        gw_words_have(words,
                      "per between pre post trigger trig average averages bit bits code codes resolution channel "
                      "channels segment segments part parts delay fft time unit units word first start zero"))
        return false;
    return gw_words_have(words, "points samples slots length depth rows values");
}

bool gw_words_name_per_division(const gw_words *words) {
    bool screen = gw_words_have(words, "division divisions div divs box boxes square squares grid");
    bool volts = gw_words_have(words, "volts volt voltage v value vertical vert amplitude");
    return (volts && screen && gw_words_have(words, "per")) ||
           (gw_words_have(words, "vertical vert") && gw_words_have(words, "scale"));
}

/* A stem of channel names: `in`, `left`; or the name of one without its number. */
static size_t stem_of(const gw_words *words, const char **stem) {
    *stem = gw_words_item(words, 0);
    size_t length = strlen(*stem);
    while (length > 1 && isdigit((unsigned char)(*stem)[length - 1]))
        length--;
    return length;
}

bool gw_words_name_channels(const gw_words *one, const gw_words *other) {
    static const char inputs[] =
        "in out input output left right l r links rechts ch chan u v i a b x y front rear send "
        "return dry wet";
    const char *stem, *other_stem;
    size_t length = stem_of(one, &stem), other_length = stem_of(other, &other_stem);
    if (one->count == 0 || other->count == 0 || gw_words_name_source(one))
        return false;
    bool same = length == other_length && memcmp(stem, other_stem, length) == 0;
    return same || (is_in(inputs, stem, length) && is_in(inputs, other_stem, other_length));
}

bool gw_words_name_source(const gw_words *words) {
    const char *first = gw_words_item(words, 0);
    bool more = words->count == 2 && gw_words_have(words, "name label id");
    return (words->count == 1 || more) && is_in("source input channel trace", first, strlen(first));
}
