/* num/coefficients.h: constants of the elementary functions and the normal distribution.
 * Made by tools/coefficients.py with 60 digits; exact as hexadecimal constants. Private to num. */
#ifndef TW_NUM_COEFFICIENTS_H
#define TW_NUM_COEFFICIENTS_H

#define TW_LN2_HIGH 0x1.62e42fee00000p-1 /* ln 2 to 32 bits, so that k * LN2_HIGH is exact for |k| < 2^21 */
#define TW_LN2_LOW 0x1.a39ef35793c76p-33 /* the rest */
#define TW_INV_LN2 0x1.71547652b82fep+0 /* 1 / ln 2 */
#define TW_LN10_HIGH 0x1.26bb1bbb55516p+1 /* ln 10 */
#define TW_LN10_LOW -0x1.f48ad494ea3e9p-53 /* the rest */
#define TW_INV_LN10_HIGH 0x1.bcb7b1526e50ep-2 /* 1 / ln 10 */
#define TW_INV_LN10_LOW 0x1.95355baaafad3p-57 /* the rest */
#define TW_THIRD_LOW 0x1.5555555555555p-56 /* 1/3 - (double)1/3 */
#define TW_INV_SQRT_2PI 0x1.9884533d43651p-2 /* density of the normal distribution at 0 */
#define TW_MILLS_A 0x1.c000000000000p+1 /* centre of the map of 0..inf to -1..1 */

/* (e^r - 1 - r - r^2/2)/r^3 in r, |r| <= 0.42.
 * Largest error 0.061 ulp of e^r. */
#define TW_EXP_TERMS 10
#define TW_EXP_0 0x1.5555555555557p-3
#define TW_EXP_1 0x1.5555555555556p-5
#define TW_EXP_2 0x1.111111110eecdp-7
#define TW_EXP_3 0x1.6c16c16c15884p-10
#define TW_EXP_4 0x1.a01a01b8614cep-13
#define TW_EXP_5 0x1.a01a01adf8b7ap-16
#define TW_EXP_6 0x1.71ddda025dbd1p-19
#define TW_EXP_7 0x1.27e4c46fd1b3fp-22
#define TW_EXP_8 0x1.af9c3c1892a5ap-26
#define TW_EXP_9 0x1.1f9fc144a8bc4p-29

/* (2 atanh(s) - 2 s)/(s z) in z = s^2, s = f/(2+f), 1+f in sqrt(1/2)..sqrt(2).
 * Largest error 0.041 ulp of log(1+f). */
#define TW_LOG_TERMS 7
#define TW_LOG_0 0x1.5555555555558p-1
#define TW_LOG_1 0x1.99999999952e2p-2
#define TW_LOG_2 0x1.2492492df14bcp-2
#define TW_LOG_3 0x1.c71c62e57c3c4p-3
#define TW_LOG_4 0x1.7462b4ac441afp-3
#define TW_LOG_5 0x1.39fe604146b74p-3
#define TW_LOG_6 0x1.2b584c6b42d60p-3

/* ((atanh(s)/s - 1)/z - 1/3)/z in z = s^2, for logarithms in two parts.
 * Largest error 2^-66.4 of log(1+f). */
#define TW_LOGL_TERMS 8
#define TW_LOGL_0 0x1.999999999999ap-3
#define TW_LOGL_1 0x1.2492492492521p-3
#define TW_LOGL_2 0x1.c71c71c6eaa8cp-4
#define TW_LOGL_3 0x1.745d177a8f30dp-4
#define TW_LOGL_4 0x1.3b1395d4f2df4p-4
#define TW_LOGL_5 0x1.1118c749a1ccap-4
#define TW_LOGL_6 0x1.df7ce956c7572p-5
#define TW_LOGL_7 0x1.e02d1cc03596ep-5

/* e^(x^2/2) P(Z > x) (x + a) in t = (x - a)/(x + a), x >= 0.
 * Largest error 3.5e-16 of the value. */
#define TW_MILLS_TERMS 24
#define TW_MILLS_0 0x1.7d241a953a615p-1
#define TW_MILLS_1 -0x1.2191517fa27b8p-1
#define TW_MILLS_2 0x1.42fec3680aad5p-2
#define TW_MILLS_3 -0x1.db5837f7f596bp-4
#define TW_MILLS_4 0x1.1d35bdee6d373p-6
#define TW_MILLS_5 0x1.a86cec773c2a5p-8
#define TW_MILLS_6 -0x1.a200799c1992cp-9
#define TW_MILLS_7 -0x1.d2a14206c20d8p-12
#define TW_MILLS_8 0x1.f3cfb97c4243bp-12
#define TW_MILLS_9 0x1.19288768c13d0p-14
#define TW_MILLS_10 -0x1.3d07af89ce391p-14
#define TW_MILLS_11 -0x1.3b3cf5438e607p-16
#define TW_MILLS_12 0x1.823c3d0210e02p-17
#define TW_MILLS_13 0x1.7b7936c55d032p-18
#define TW_MILLS_14 -0x1.3b28b1951c55ap-20
#define TW_MILLS_15 -0x1.8eb4a829a839dp-20
#define TW_MILLS_16 -0x1.17c7de0f07462p-23
#define TW_MILLS_17 0x1.45d54652488dep-22
#define TW_MILLS_18 0x1.e292634473d66p-24
#define TW_MILLS_19 -0x1.4a6da7244b8edp-25
#define TW_MILLS_20 -0x1.05a5de360c10cp-25
#define TW_MILLS_21 0x1.1e1eebd169dbep-31
#define TW_MILLS_22 0x1.f0057d7c6bdb1p-29
#define TW_MILLS_23 0x1.0e1100f228f89p-31

/* e^(x^2/2) P(Z > x) (x + a) in t = (x - a)/(x + a), x >= 0.
 * Largest error 6.6e-11 of the value. */
#define TW_MILLS_LANE_TERMS 15
#define TW_MILLS_LANE_0 0x1.7d241a953a614p-1
#define TW_MILLS_LANE_1 -0x1.21915184c5550p-1
#define TW_MILLS_LANE_2 0x1.42fec3696b81cp-2
#define TW_MILLS_LANE_3 -0x1.db5831ef37823p-4
#define TW_MILLS_LANE_4 0x1.1d35babe5de87p-6
#define TW_MILLS_LANE_5 0x1.a868c7ced9b34p-8
#define TW_MILLS_LANE_6 -0x1.a1ff6c49a626ap-9
#define TW_MILLS_LANE_7 -0x1.d15bdbeeeb546p-12
#define TW_MILLS_LANE_8 0x1.f3a95de7269d7p-12
#define TW_MILLS_LANE_9 0x1.0c13e00e39b90p-14
#define TW_MILLS_LANE_10 -0x1.3bb033db2f829p-14
#define TW_MILLS_LANE_11 -0x1.e0a1f2f2f9205p-17
#define TW_MILLS_LANE_12 0x1.76dc6edaad377p-17
#define TW_MILLS_LANE_13 0x1.1a0451e16e05cp-19
#define TW_MILLS_LANE_14 -0x1.23571a39cd357p-20

/* Gauss-Legendre, 6 points on -1..1: the three positive nodes and their weights. */
#define TW_GAUSS_NODE_0 0x1.e8b12d03675c5p-3
#define TW_GAUSS_WEIGHT_0 0x1.df24d499545e8p-2
#define TW_GAUSS_NODE_1 0x1.528a09655c95ep-1
#define TW_GAUSS_WEIGHT_1 0x1.716b7b5794c1cp-2
#define TW_GAUSS_NODE_2 0x1.dd6ca4e80a01ep-1
#define TW_GAUSS_WEIGHT_2 0x1.5edf601e2dbf8p-3

#endif
