"""Names of the published standards that more than one part of the program rests on."""

EBU_TECH_3276 = "EBU Tech 3276"
ITU_R_BS_1116_3 = "ITU-R BS.1116-3"
