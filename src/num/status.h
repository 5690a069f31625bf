/* num/status.h: the named reasons for which a question could not be answered.
 *
 * One list makes the enum, the sentence and the page in the docs. A caller's bug is TW_REQUIRE
 * (num/require.h); "no" is an answer, not a status. Members are only ever added, at the end. */
#ifndef TW_NUM_STATUS_H
#define TW_NUM_STATUS_H

/* Every status with its sentence. */
#define TW_STATUS_LIST(X)                                                          \
    X(TW_OK,                 "ok")                                                 \
    X(TW_ERR_RANGE,          "a value is outside the range that is covered")       \
    X(TW_ERR_NO_ROOT,        "no pH between 2 and 12 balances the charges")        \
    X(TW_ERR_CAPACITY,       "the caller's memory is too small")                   \
    X(TW_ERR_FORMAT,         "the text is not in the expected form")               \
    X(TW_ERR_MISSING,        "something that is needed is missing")                \
    X(TW_ERR_UNKNOWN,        "the word is not known")                              \
    X(TW_ERR_CONFLICT,       "two statements contradict each other")               \
    X(TW_ERR_NEWER,          "the data comes from a newer version")                \
    X(TW_ERR_NO_CONVERGENCE, "the calculation did not settle")                     \
    X(TW_ERR_IO,             "reading or writing failed")                          \
    X(TW_ERR_LOCKED,         "another program holds the file")                     \
    X(TW_ERR_FULL,           "no space is left")                                   \
    X(TW_ERR_READ_ONLY,      "the file can only be read")                          \
    X(TW_ERR_DAMAGED,        "the file is damaged")                                \
    X(TW_ERR_AMBIGUOUS,      "the word has more than one meaning; it must be asked")

#define TW_STATUS_ENUM(name, text) name,
typedef enum tw_status {
    TW_STATUS_LIST(TW_STATUS_ENUM)
    TW_STATUSES /* how many there are; never a status itself */
} tw_status;
#undef TW_STATUS_ENUM

/* The sentence of a status, for developers and logs. Never NULL; a number outside the enum gives
 * "unknown status". Sentences for people stand in data/text.en.csv. */
const char *tw_status_text(tw_status status);

/* The name of a status as written in code ("TW_ERR_RANGE"), for test output. Never NULL. */
const char *tw_status_name(tw_status status);

#endif
